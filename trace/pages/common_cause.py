"""What do the bad ones share? A picture and a table of what stands out, its rivals split, and what to look at next."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import groupby
from math import isnan

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from plant.errors import NotThere
from trace.codes import printed
from trace.drawings.chance_chart import ChancePair, Point, chance_charts
from trace.drawings.strip import Strip, strip
from trace.drawings.strip import said as said_of
from trace.genealogy.documents import in_unit
from trace.pages.asked import as_known_on
from trace.pages.papers import PaperForm, paper_form
from trace.quality.blamed import blamed
from trace.quality.common_cause import CommonCause, common_cause
from trace.quality.documents import no_proof, sentence
from trace.quality.exact import Table, exact_bounds
from trace.quality.factors import Factor, asks, said
from trace.quality.incidence import OPEN
from trace.quality.next_test import Test
from trace.quality.question import QuestionError, asked_in_words, from_address
from trace.quality.ranking import LIMIT, Ranked, Split, limit_of_chance
from trace.quality.side_by_side import Differs, differing, good_ones, same_in_all
from trace.sheets.addresses import hull_url, scope_url, unit_url
from trace.sheets.facts.notes import named, named_digests, notes
from trace.sheets.facts.revisions import revisions
from trace.sheets.hulls.sheet import caution

# So many stand in the picture, so many rivals are split, so many other names of the same hulls are told.
IN_PICTURE, MOST_SPLITS, MOST_NAMES = 6, 4, 4


@dataclass(frozen=True, slots=True)
class Row:
    """One set of hulls. `also`: other names of the same hulls; `unsure`: what the hulls that only may have it could
    change; `dose`: how much of a lot the bad and the good hold."""

    number: int
    name: str
    words: str
    url: str
    also: tuple[str, ...]
    more_names: int
    hit: str
    exposed: str
    rate_with: str
    rate_without: str
    lift: str
    p: str
    p_both: str
    corrected: str
    time: str
    standing: str
    first: bool
    unsure: str
    dose: str


@dataclass(frozen=True, slots=True)
class SplitLine:
    """One of four: within the first or outside of it, with the rival or without."""

    where: str
    has: str
    bad: str
    rate: str
    bounds: str
    p: str


@dataclass(frozen=True, slots=True)
class SplitTable:
    name: str
    says: str
    lines: tuple[SplitLine, ...]


@dataclass(frozen=True, slots=True)
class TestLine:
    """One thing to look at; `may`: so many of its hulls only may have it; `samples`: (label, address) of what is kept
    of it; `whole`: they stand for the whole of what stands out."""

    what: str
    hulls: int
    becomes: str
    settles: bool
    may: int
    samples: tuple[tuple[str, str], ...]
    whole: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """What the form holds."""

    plates: str
    first: str = ""
    last: str = ""
    days: str = ""
    sold: bool = True


@dataclass(frozen=True, slots=True)
class Told:
    """What the page shows of an answer."""

    answer: CommonCause
    says: str
    chart: ChancePair
    rows: tuple[Row, ...]
    splits: tuple[SplitTable, ...]
    tests: tuple[TestLine, ...]
    differs: tuple[tuple[Differs, Strip], ...]
    same: tuple[tuple[str, tuple[str, ...]], ...]
    same_count: int
    paper: PaperForm | None
    good: str
    pairs: tuple[tuple[str, str, str], ...]
    limits: tuple[str, ...]
    cleared: tuple[str, ...]
    at_risk: str
    bad: tuple[tuple[str, str], ...]
    caution: str
    json_url: str


@dataclass(frozen=True, slots=True)
class CausePage:
    """Contract of templates/pages/common_cause.html; `told` is None while nothing is asked, `error` says what is wrong
    with what was."""

    asked: Asked
    error: str = ""
    told: Told | None = None

    @property
    def whose(self) -> str:
        """Of what gaps are told."""
        return _("what is compared")


def bad_ones(request: HttpRequest) -> HttpResponse:
    """Context: page (CausePage). The address: quality/question.py."""
    get = request.GET
    plates = [plate for text in get.getlist("bad") for plate in text.replace(",", " ").split()]
    asked = Asked(
        "\n".join(dict.fromkeys(plates)), get.get("first", ""), get.get("last", ""), get.get("days", ""),
        get.get("sold", "") != "no",
    )  # fmt: skip
    if not plates:
        return render(request, "pages/common_cause.html", {"page": CausePage(asked)})
    try:
        answer = common_cause(from_address(get), as_known_on(request))
    except QuestionError as error:
        return render(request, "pages/common_cause.html", {"page": CausePage(asked, str(error))}, status=400)
    except LookupError as nothing:
        raise NotThere(what=str(nothing), why=_("The bad hulls are named by their plates.")) from None
    return render(request, "pages/common_cause.html", {"page": CausePage(asked, told=_told(request, answer))})


def _told(request: HttpRequest, answer: CommonCause) -> Told:
    teller = _Teller(request, answer, _people(answer))
    same = same_in_all(answer, teller.name)
    return Told(
        answer=answer,
        says=sentence(answer),
        chart=_chart(answer, teller),
        rows=tuple(teller.row(n, one) for n, one in enumerate(answer.ranking.nearest, 1)),
        splits=tuple(teller.splits()),
        tests=tuple(teller.tests()),
        differs=tuple((one, _strip(one)) for one in differing(answer, teller.name)),
        same=tuple((sort, tuple(one.name for one in some)) for sort, some in groupby(same, lambda one: one.sort)),
        same_count=len(same),
        paper=paper_form(request, "side-by-side", asked_in_words(answer.question), answer.as_known_on),
        good=_good(answer),
        pairs=tuple(_side_by_side(answer)),
        limits=tuple(_limits(answer)),
        cleared=tuple(teller.cleared()),
        at_risk=_at_risk(answer),
        bad=tuple((answer.hulls[n].said, hull_url(answer.hulls[n].serial or "")) for n in answer.bad),
        caution=caution(),
        json_url=f"{reverse('api_common_cause')}?{request.GET.urlencode()}",
    )


def _strip(one: Differs) -> Strip:
    bad, good = (
        words % {"said": said_of(hit, of, grades.count(OPEN))}
        for words, hit, of, grades in (
            (_("Of the bad %(said)s"), one.bad, one.of_bad, one.bad_ones),
            (_("of the good %(said)s"), one.good, one.of_good, one.good_ones),
        )
    )
    return strip(one.bad_ones, one.good_ones, f"{one.name}. {bad}; {good}.")


def _people(answer: CommonCause) -> dict[str, str]:
    """The names of the people among the causes, as known then."""
    keys = sorted({factor.key for factor in answer.factors if factor.sort == "person"})
    plant = revisions([("person", key) for key in keys], answer.as_known_on)
    written = notes(named_digests(plant))
    return {key: named("person", key, plant, written) for key in keys}


@dataclass(frozen=True)
class _Teller:
    """Puts an answer into words."""

    request: HttpRequest
    answer: CommonCause
    people: Mapping[str, str]

    def name(self, factor: Factor) -> str:
        if factor.sort == "person":
            factor = factor._replace(key=self.people.get(factor.key, factor.key))
        return said(factor, self.answer.units)

    def row(self, number: int, one: Ranked) -> Row:
        names = self.answer.names(one)
        table, dose = one.table, next((self.answer.doses[n] for n in one.causes if n in self.answer.doses), None)
        uom = "mg" if dose and max(dose.bad, dose.good) > 10_000 else "pc"
        much = [in_unit(round(x), uom) if dose else "" for x in ((dose.bad, dose.good) if dose else ())]
        return Row(
            number=number,
            name=self.name(names[0]),
            words=_in_words(table),
            url=scope_url(self.request, asks(names[0], self.answer.units), as_known_on(self.request)),
            also=tuple(self.name(name) for name in names[1 : 1 + MOST_NAMES]),
            more_names=max(0, len(names) - 1 - MOST_NAMES),
            hit=_("%(hit)d of %(bad)d") % {"hit": table.hit, "bad": table.bad},
            exposed=str(table.exposed),
            rate_with=percent(table.rate_with), rate_without=percent(table.rate_without),
            lift="–" if isnan(table.lift) else f"{table.lift:.1f}",
            p=p_said(one.p_more), p_both=p_said(one.p_both), corrected=p_said(one.corrected),
            time=p_said(one.period.p_more),
            standing=_standing(one),
            first=one is self.answer.ranking.first or one in self.answer.ranking.tied,
            unsure="; ".join(words for words in (_cut(one), _unsure(one)) if words),
            dose=_("in the middle bad one %(bad)s %(uom)s of it, in the middle good one %(good)s (p about %(p)s)") % {
                "bad": much[0], "good": much[1], "uom": "kg" if uom == "mg" else _("pieces"), "p": p_said(dose.p_more),
            } if dose else "",
        )  # fmt: skip

    def cleared(self) -> Iterator[str]:
        """What most of the bad have, and chance explains."""
        for factor, table in blamed(self.answer):
            said_so = _("%(name)s: %(hit)d of %(bad)d, no more than chance (%(exposed)d of all %(hulls)d have it).")
            yield said_so % {
                "name": self.name(factor), "hit": table.hit, "bad": table.bad, "exposed": table.exposed,
                "hulls": table.hulls,
            }  # fmt: skip

    def splits(self) -> list[SplitTable]:
        first = self.answer.ranking.first
        if first is None:
            return []
        rivals = [one for one in self.answer.ranking.nearest if one.against and one.p_more < LIMIT]
        return [
            SplitTable(self.name(self.answer.names(one)[0]), _split_says(one), tuple(_split_lines(one.against)))
            for one in rivals[:MOST_SPLITS]
            if one.against
        ]

    def tests(self) -> list[TestLine]:
        asked = as_known_on(self.request)
        return [
            TestLine(
                what=self._look_at(t),
                hulls=t.hulls,
                becomes=str(max(0, t.of - t.hulls)),
                settles=t.settles,
                may=t.may,
                samples=tuple((printed(one.code), unit_url(one.code, asked)) for one in t.samples),
                whole=t.whole,
            )
            for t in self.answer.tests
        ]

    def _look_at(self, test: Test) -> str:
        if test.factors[0].sort == "gap":
            return _("The record of %(what)s") % {"what": ", ".join(f"{f.key} {f.part}".strip() for f in test.factors)}
        if test.samples:
            return _("A retained sample of %(what)s") % {"what": self.name(test.factors[0])}
        return _("A sample or a piece of %(what)s") % {"what": self.name(test.factors[0])}


def _in_words(table: Table) -> str:
    return _("in %(hit)d of the %(bad)d bad and in %(good)d of the %(others)d others") % {
        "hit": table.hit, "bad": table.bad, "good": table.exposed - table.hit, "others": table.hulls - table.bad,
    }  # fmt: skip


def _at_risk(answer: CommonCause) -> str:
    """Which hulls are compared, and why a scope of the same cause counts others."""
    models = sorted({str(hull.about.get("product")) for hull in answer.hulls if hull.about.get("product")})
    said = {"n": len(answer.hulls), "models": ", ".join(models)}
    if not answer.question.sold:
        return _("At risk are the %(n)d hulls of %(models)s that are asked about. A scope counts every model.") % said
    return _("At risk are the %(n)d hulls of %(models)s that are asked about and were sold: only those can have failed."
             " A scope counts more: also those in the plant and other models.") % said  # fmt: skip


def _standing(one: Ranked) -> str:
    words = {
        "stands out": _("stands out"), "stands out too": _("stands out too"), "goes with": _("goes with 1"),
        "not told apart": _("tied with 1: not told apart"), "within chance": _("within chance"),
    }  # fmt: skip
    if one.standing == "stands out" and one.period.p_more >= LIMIT:
        return _("stands out; so does the time it was made")
    return words[one.standing]


def _cut(one: Ranked) -> str:
    if one.cuts == 1:
        return ""
    return _("the likeliest of %(n)d cuts, which the corrected p counts") % {"n": one.cuts}


def _unsure(one: Ranked) -> str:
    """What would follow if none or all had it that only may."""
    may = one.most.exposed - one.least.exposed
    if not may:
        return ""
    return _("%(n)d of these only may have it: p %(least)s if none did, %(most)s if all did") % {
        "n": may, "least": p_said(one.p_least), "most": p_said(one.p_most),
    }  # fmt: skip


def _split_says(one: Ranked) -> str:
    assert one.against is not None and one.first_against is not None  # noqa: S101 - asked for rivals only
    said_so = {
        "goes with": _("With 1 held fixed it falls silent (p %(p)s), and 1 with it held fixed does not (p %(back)s)."),
        "not told apart": _("Each falls silent with the other held fixed (p %(p)s and %(back)s): the records cannot"
                            " part them."),
        "within chance": _("With 1 held fixed it is no more than one of so many rivals shows by chance (p %(p)s; 1 with"
                           " it held fixed: %(back)s)."),
    }  # fmt: skip
    if one.standing == "not told apart" and one.against.together.p_more < LIMIT:
        said_so["not told apart"] = _("1 falls silent with it held fixed (p %(back)s), it does not with 1 held fixed"
                                      " (p %(p)s): look at it as soon as at 1.")  # fmt: skip
    words = said_so.get(one.standing, _("It holds with 1 held fixed too (p %(p)s; 1 with it held fixed: %(back)s)."))
    return words % {
        "p": p_said(one.against.together.p_more), "back": p_said(one.first_against.together.p_more),
    }  # fmt: skip


def _split_lines(split: Split) -> list[SplitLine]:
    lines = []
    for table, p, where in (
        (split.within, split.p_within, _("with 1")), (split.outside, split.p_outside, _("without 1")),
    ):  # fmt: skip
        others = table.hulls - table.exposed
        for has, bad, of in ((_("has it"), table.hit, table.exposed), (_("has it not"), table.bad - table.hit, others)):
            low, high = exact_bounds(bad, of)
            lines.append(SplitLine(
                where, has, _("%(bad)d of %(of)d") % {"bad": bad, "of": of}, percent(bad / of if of else float("nan")),
                _("%(low)s to %(high)s") % {"low": percent(low), "high": percent(high)}, p_said(p),
            ))  # fmt: skip
    return lines


def _limits(answer: CommonCause) -> list[str]:
    """What this does not prove, in plain words."""
    first = answer.ranking.first
    found = [no_proof()]
    if first is None:
        return [*found, _("That nothing stands out does not show that nothing is wrong: with few bad hulls only a"
                          " strong cause can.")]  # fmt: skip
    names = answer.names(first)
    if len(names) > 1:
        found.append(_("%(n)d names stand for the same hulls: no record here can tell them apart.") % {"n": len(names)})
    found += bad_without(answer, first)
    if first.period.p_more >= LIMIT:
        found.append(_("Within the time when it was used it is not commoner among the bad: whatever else was so then"
                       " could be it."))  # fmt: skip
    if answer.window[1] < LIMIT and len(answer.bad) > 1:
        found.append(
            _("The bad ones lie within %(share)s of all that was made; chance alone does that in %(p)s of cases.")
            % {"share": percent(answer.window[0]), "p": percent(answer.window[1])}
        )
    return found


def bad_without(answer: CommonCause, first: Ranked) -> list[str]:
    """The bad ones that do not have what stands out, and those that lack the record that would say so."""
    has = answer.pairs.flags(first.causes[0])
    may = answer.pairs.flags(first.causes[0], OPEN)
    found = []
    for flags, words in (
        (~may, _("Without it, so of another cause or another kind of failure: %(which)s.")),
        (may & ~has, _("May have it, since a record is missing: %(which)s.")),
    ):
        which = [answer.hulls[n].said for n in answer.bad if flags[n]]
        if which:
            found.append(words % {"which": ", ".join(which)})
    return found


def _chart(answer: CommonCause, teller: _Teller) -> ChancePair:
    ranking = answer.ranking
    points = [
        Point(n, teller.name(answer.names(one)[0]), one.table.hit, one.table.exposed / ranking.hulls,
              one is ranking.first)
        for n, one in enumerate(ranking.nearest[:IN_PICTURE], 1)
    ]  # fmt: skip
    limit = [n / ranking.hulls for n in limit_of_chance(ranking.bad, ranking.hulls, ranking.causes)]
    return chance_charts(points, ranking.bad, limit, _picture_says(answer))


def _picture_says(answer: CommonCause) -> str:
    return _("Share of the %(bad)d bad hulls against share of all %(hulls)d at risk, and what chance alone reaches."
             " %(says)s") % {
        "bad": answer.ranking.bad, "hulls": answer.ranking.hulls, "says": sentence(answer),
    }  # fmt: skip


def _side_by_side(answer: CommonCause, most: int = 5) -> list[tuple[str, str, str]]:
    """(bad, good, address): each bad hull beside the good one that was made nearest to it."""
    bad = set(answer.bad)
    good = [n for n in range(len(answer.hulls)) if n not in bad and answer.hulls[n].serial]
    found = []
    for n in [n for n in answer.bad if answer.hulls[n].serial][:most]:
        other = min(good, key=lambda g: (abs(g - n), g), default=None)
        if other is not None:
            both = {"a": answer.hulls[n].serial or "", "b": answer.hulls[other].serial or ""}
            found.append((both["a"], both["b"], f"{reverse('compare')}?{urlencode(both)}"))
    return found


def _good(answer: CommonCause) -> str:
    """Which good ones the bad stand beside."""
    chosen, all_good = int(good_ones(answer).sum()), answer.ranking.hulls - answer.ranking.bad
    if chosen == all_good:
        return _("Good: all %(n)d others at risk.") % {"n": chosen}
    return _("Good: the %(n)d others of the same models made from the first bad one to the last.") % {"n": chosen}


def percent(share: float) -> str:
    if isnan(share):
        return "–"
    return f"{100 * share:.2g} %" if share < 0.1 else f"{100 * share:.0f} %"


SUPERSCRIPT = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def p_said(p: float) -> str:
    """Two digits; below a thousandth as a power of ten."""
    if p >= 0.001 or p <= 0:
        return f"{p:.2g}"
    digits, _e, power = f"{p:.1e}".partition("e")
    return f"{digits} × 10{str(int(power)).translate(SUPERSCRIPT)}"

