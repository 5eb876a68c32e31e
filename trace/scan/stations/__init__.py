"""All stations by their slug, the last part of their address, in the order material goes through the plant."""

from trace.scan.sight import Station
from trace.scan.stations.badges import BADGES, LABELS
from trace.scan.stations.corrections import CORRECT, DISCREPANCIES
from trace.scan.stations.demould import CUT, DEMOULD
from trace.scan.stations.gate import DISPATCH, PACK, RACK, REWRAP
from trace.scan.stations.goods_in import CERTIFICATE, GOODS_IN, RELEASE
from trace.scan.stations.holds import HOLD, RELEASE_HOLD
from trace.scan.stations.inspect import INSPECT
from trace.scan.stations.load import LOAD
from trace.scan.stations.opening import OPENING
from trace.scan.stations.oven import OVEN
from trace.scan.stations.plates import PLATES
from trace.scan.stations.vessels import COUNT, TOP_UP
from trace.scan.stations.weigh import CHECK_WEIGHT, WEIGH

STATIONS: dict[str, Station] = {
    station.slug: station
    for station in (
        GOODS_IN, CERTIFICATE, RELEASE, TOP_UP, COUNT, CHECK_WEIGHT, WEIGH, LOAD, OVEN, DEMOULD, CUT, PLATES, INSPECT,
        PACK, REWRAP, RACK, DISPATCH, HOLD, RELEASE_HOLD, CORRECT, DISCREPANCIES, OPENING, BADGES, LABELS,
    )
}  # fmt: skip
