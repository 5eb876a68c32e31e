"""The maker's drawings of the demo plant's moulds: outlines, details, positions, graphics, thickness zones.

Seen from above, bow to the right, port side up; a unit is about 6 mm on the long hulls and 2 mm on the buoy.
These are the "drawing" part of a product's recorded data; trace/drawings/mould_plan.py reads the keys.
"""

from typing import Any

Drawing = dict[str, Any]

# Tamsin 430, touring kayak: long waterline, keyhole cockpit, two hatches, rudder.
T430: Drawing = {
    "box": [760, 190],
    "outline": (
        "M26 95C40 86 62 80 96 73C170 57 258 39 352 37C446 35 560 52 650 76C694 87 722 92 744 95"
        "C722 98 694 103 650 114C560 138 446 155 352 153C258 151 170 133 96 117C62 110 40 104 26 95Z"
    ),
    "details": [
        # sheer line inside the edge
        "M60 95C84 84 190 64 352 47C480 50 600 74 706 95C600 116 480 140 352 143C190 126 84 106 60 95Z",
        # coaming and cockpit opening
        "M286 95C286 71 312 62 352 62C412 62 456 76 466 95C456 114 412 128 352 128C312 128 286 119 286 95Z",
        "M294 95C294 76 318 69 352 69C406 69 446 81 455 95C446 109 406 121 352 121C318 121 294 114 294 95Z",
        # seat and its back band
        "M316 80Q312 95 316 110H352Q362 95 352 80Z",
        "M308 82V108",
        # aft oval hatch, fore oval hatch, with their rims
        "M128 95A40 19 0 1 1 208 95A40 19 0 1 1 128 95Z",
        "M134 95A34 14 0 1 1 202 95A34 14 0 1 1 134 95Z",
        "M546 95A34 15 0 1 1 614 95A34 15 0 1 1 546 95Z",
        "M552 95A28 11 0 1 1 608 95A28 11 0 1 1 552 95Z",
        # deck lines crossed before the cockpit
        "M486 74L530 116M486 116L530 74",
        # rudder: stock, blade, yoke
        "M26 95H10L4 88V102L10 95M30 84V106",
        # carrying toggles
        "M722 95H734M44 95H54",
    ],
    "positions": {
        "S1": [312, 54],
        "S2": [358, 51],
        "S3": [404, 55],
        "S4": [312, 136],
        "S5": [358, 139],
        "S6": [404, 135],
        "S7": [60, 95],
        "S8": [112, 95],
        "H1": [148, 70],
        "H2": [188, 120],
        "H3": [560, 70],
        "H4": [600, 116],
    },
    "graphics": {"PORT": [470, 50, 72, 11], "STARBOARD": [470, 129, 72, 11], "CAPACITY": [226, 88, 44, 14]},
    "zones": {
        "Z1": [684, 95],
        "Z2": [640, 84],
        "Z3": [446, 140],
        "Z4": [262, 57],
        "Z5": [262, 133],
        "Z6": [38, 95],
    },
}

# Tamsin 370, short touring kayak: blunter ends, large open cockpit, one hatch, skeg.
T370: Drawing = {
    "box": [660, 200],
    "outline": (
        "M24 100C30 84 60 70 110 56C180 38 250 30 320 30C420 30 520 52 584 76C618 88 634 94 640 100"
        "C634 106 618 112 584 124C520 148 420 170 320 170C250 170 180 162 110 144C60 130 30 116 24 100Z"
    ),
    "details": [
        "M48 100C80 78 180 46 320 42C440 46 540 74 612 100C540 126 440 154 320 158C180 154 80 122 48 100Z",
        "M238 100C238 68 270 58 322 58C396 58 440 78 446 100"
        "C440 122 396 142 322 142C270 142 238 132 238 100Z",
        "M247 100C247 75 276 66 322 66C388 66 428 84 434 100"
        "C428 116 388 134 322 134C276 134 247 125 247 100Z",
        "M270 82H312Q320 100 312 118H270Q264 100 270 82Z",
        "M118 100A44 24 0 1 1 206 100A44 24 0 1 1 118 100Z",
        "M125 100A37 18 0 1 1 199 100A37 18 0 1 1 125 100Z",
        "M470 78L540 112M470 122L540 88M470 78V122M540 88V112",
        "M62 97H100V103H62Z",
        "M604 100H624",
    ],
    "positions": {
        "S1": [262, 48],
        "S2": [312, 45],
        "S3": [362, 48],
        "S4": [262, 152],
        "S5": [312, 155],
        "S6": [362, 152],
        "H1": [140, 68],
        "H2": [184, 132],
    },
    "graphics": {"PORT": [420, 52, 76, 12], "STARBOARD": [420, 136, 76, 12], "CAPACITY": [212, 74, 20, 52]},
    "zones": {
        "Z1": [576, 100],
        "Z2": [454, 100],
        "Z3": [400, 148],
        "Z4": [222, 52],
        "Z5": [110, 76],
        "Z6": [42, 100],
    },
}

# Halcott 320, river-rescue sled-boat: square stern, side tubes with grab lines, ribbed well, tow eyes.
H320: Drawing = {
    "box": [640, 260],
    "outline": "M40 56Q40 34 62 34H432C520 34 588 84 606 130C588 176 520 226 432 226H62Q40 226 40 204Z",
    "details": [
        # inner edge of the side tubes
        "M84 92Q84 82 94 82H426C484 82 520 108 532 130C520 152 484 178 426 178H94Q84 178 84 168Z",
        # ribs of the well
        "M132 82V178M188 82V178M244 82V178M300 82V178M356 82V178M412 82V178",
        # runners under the floor
        "M96 112H512M96 148H512",
        # upturned bow: the crease where the floor rises
        "M470 42C500 70 512 100 514 130C512 160 500 190 470 218",
        # transom board
        "M40 74H58V186H40M48 74V186",
        # grab lines along both tubes
        "M98 34Q126 14 154 34Q182 14 210 34Q238 14 266 34Q294 14 322 34Q350 14 378 34Q406 14 434 34",
        "M98 226Q126 246 154 226Q182 246 210 226Q238 246 266 226"
        "Q294 246 322 226Q350 246 378 226Q406 246 434 226",
    ],
    "positions": {
        "E1": [566, 102],
        "E2": [566, 158],
        "E3": [70, 92],
        "E4": [70, 168],
        "B1": [126, 58],
        "B2": [406, 58],
        "B3": [126, 202],
        "B4": [406, 202],
    },
    "graphics": {"PORT": [176, 46, 170, 24], "STARBOARD": [176, 190, 170, 24]},
    "zones": {
        "Z1": [588, 130],
        "Z2": [496, 70],
        "Z3": [436, 130],
        "Z4": [160, 130],
        "Z5": [106, 130],
        "Z6": [440, 202],
    },
}

# Bollen 60, mooring buoy: round, pipe through the middle, fender ridge, four lifting lugs.
B60: Drawing = {
    "box": [300, 300],
    "outline": "M22 150A128 128 0 1 1 278 150A128 128 0 1 1 22 150Z",
    "details": [
        "M36 150A114 114 0 1 1 264 150A114 114 0 1 1 36 150Z",
        "M44 150A106 106 0 1 1 256 150A106 106 0 1 1 44 150Z",
        # crown and the pipe's flange
        "M96 150A54 54 0 1 1 204 150A54 54 0 1 1 96 150Z",
        "M116 150A34 34 0 1 1 184 150A34 34 0 1 1 116 150Z",
        # ribs from the crown to the fender ridge
        "M150 96V44M150 204V256M96 150H44M204 150H256",
        # lugs
        "M222 66L236 52L248 64L234 78M66 78L52 64L64 52L78 66",
        "M234 222L248 236L236 248L222 234M78 234L64 248L52 236L66 222",
    ],
    "positions": {"P1": [150, 150], "L1": [228, 72], "L2": [228, 228], "L3": [72, 228], "L4": [72, 72]},
    "graphics": {"BAND": [118, 214, 64, 14]},
    "zones": {"Z1": [150, 84], "Z2": [250, 130], "Z3": [112, 206], "Z4": [50, 170]},
}

DRAWINGS: dict[str, Drawing] = {"T430": T430, "T370": T370, "H320": H320, "B60": B60}
