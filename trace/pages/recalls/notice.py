"""The form of a notice: its texts, filled in as far as the records know them, and the command that they make."""

from collections.abc import Iterable, Sequence

from django.http import QueryDict
from django.utils.translation import gettext as _

from trace.codes.recall_notice import FIELDS, HEADLINE, REMEDIES
from trace.lookup import plant_now
from trace.pages.recalls.checklist import CHECKLIST
from trace.pages.recalls.contract import Box, ToConsignee
from trace.pages.sought import Asked
from trace.recording.acts.recalls import FIELD_WORDS, BeginRecall

LONGEST = 2000  # characters of one text


def begins_with(asked: Asked, consignees: Sequence[ToConsignee]) -> dict[str, str]:
    """What the records know of a notice's texts; whoever sends it reads and completes them."""
    plant = plant_now()
    models = sorted({str(one.node.about.get("product") or "") for one in asked.hulls} - {""})
    names = [str(plant.body("product", model).get("name") or model) for model in models]
    return {
        "headline": HEADLINE,
        "product": ", ".join(names),
        "brand": str(plant.setting("plant-name", "")),
        "numbers": "; ".join(_span(model, asked) for model in models),
        "sold": "; ".join(_sold(one) for one in consignees),
        "action": _("Stop using the product immediately and keep it away from others. Answer with the reply sheet."),
        "contact": str(plant.setting("plant-contact", "")),
        "share": _("Please pass this notice on to whoever may have one of these products."),
    }


def _span(model: str, asked: Asked) -> str:
    plates = sorted(one.node.said for one in asked.hulls if one.node.about.get("product") == model)
    if len(plates) == 1:
        return plates[0]
    return _("%(first)s to %(last)s, those on the list: %(n)d") % {
        "first": plates[0], "last": plates[-1], "n": len(plates),
    }  # fmt: skip


def _sold(to: ToConsignee) -> str:
    days = sorted({hull.day for hull in to.hulls if hull.day})
    span = days[0] if len(days) == 1 else f"{days[0]} – {days[-1]}" if days else _("day not recorded")
    return f"{to.name}, {span}"


def hints() -> dict[str, str]:
    """How each text is asked for."""
    return {
        "headline": _("In English these words and nothing else; in another language those of its official text."),
        "picture": _("Which picture goes with it: a drawing or a photo that shows the model."),
        "on_product": _("Where a buyer finds the plate."),
        "sold": _("And by whom, if that is known."),
        "hazard": _("What can happen and how badly, in plain words. Nothing that plays it down."),
        "action": _("First of all: stop using it at once."),
        "remedy": _("How a buyer gets it, free of charge and without delay."),
        "contact": _("A telephone number free of charge, or a service on the internet."),
        "only_one": _("Only where the other remedies cannot be had or would be out of proportion."),
        "language": _("Empty for English. Buyers read it in the language of where it was sold."),
    }


def boxes(texts: dict[str, str]) -> tuple[Box, ...]:
    hint = hints()
    wide = ("hazard", "action", "remedy", "numbers", "sold")
    return tuple(
        Box(name, _(FIELD_WORDS[name]), hint.get(name, ""), texts.get(name, ""), 4 if name in wide else 1)
        for name in FIELDS
    )


def remedy_ticks(ticked: Iterable[str]) -> tuple[tuple[str, str, bool], ...]:
    words = {"repair": _("repair"), "replacement": _("replacement"), "refund": _("refund")}
    done = set(ticked)
    return tuple((name, words[name], name in done) for name in REMEDIES)


def command_of(asked: Asked, sent: QueryDict) -> BeginRecall:
    """What the form asks to be recorded."""
    texts = {name: sent.get(name, "").strip()[:LONGEST] for name in FIELDS}
    listed = bool(asked.words)
    return BeginRecall(
        hold=asked.hold, question=asked.words, known_on=asked.known_on, hulls=asked.certain if listed else (),
        may=asked.may if listed else (), discovered=sent.get("discovered", "").strip()[:10],
        remedies=tuple(name[:20] for name in sent.getlist("remedies")[:6]),
        checked=tuple(code for code in CHECKLIST if code in sent.getlist("checked")), **texts,
    )  # fmt: skip
