"""One hull through the plant: what the cast can do, and that the read models agree with the bytes afterwards."""

from tests.cast import PACKER, SO_RED, Cast, plate, rows_of
from trace.codes import printed
from trace.readmodels.rebuild import differences
from trace.recording.acts.packing import Dispatch, Pack, Rack


def test_a_hull_from_weighing_to_the_truck(cast: Cast) -> None:
    serial = cast.hull(plate(1))
    pack = cast.scan(Pack(order=SO_RED, hulls=(serial,)), person=PACKER).made["codes"][0]
    cast.scan(Rack(place="R4-2", units=(pack,)), person=PACKER)
    cast.scan(Dispatch(order=SO_RED, packs=(pack,), consignee="WHARFE", vehicle="PA 12"), person=PACKER)
    assert differences() == []
    # Nobody took a photo, and nobody has to look at one.
    assert rows_of("SELECT kind FROM discrepancy") == []


def test_a_pack_is_answered_with_its_label_and_its_hulls(cast: Cast) -> None:
    hulls = tuple(cast.hull(plate(n)) for n in (1, 2))
    answer = cast.scan(Pack(order=SO_RED, hulls=hulls), person=PACKER)
    assert answer.recorded == f"pack {printed(answer.made['codes'][0])}: {plate(1)}, {plate(2)}"
