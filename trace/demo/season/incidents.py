"""What goes wrong in the year, and when: days of the story, counted from the first. All invented."""

# The scale W-3 reads 1.8 % low from the day after its last good check; nobody checks it until the seventh working day.
SCALE_LOW, SCALE_FOUND, SCALE_BACK = 37, 44, 50
SCALE_READS = "0.982"
# The mould T430-02 is away, and comes back new: the one whom everybody suspects later.
REFURBISHED = range(18, 64)
FIRST_OFF = 61
# M8-N inserts of lot N-0417: no nickel over the copper.
SUSPECT_LOT = "N-0417"
SUSPECT_INSERTS = range(121, 182)
# From here on one hull that has them is always left in the racks.
LEFT_FROM = 160
# Of so many loads another lot is taken all the same: two boxes stand on the floor.
OTHER_LOT = 0.35
# Two lots of a thing stand in the hall at a time, and so often somebody takes of the newer one. So what a cause and an
# innocent lot share is never all of either: the lot went into hulls without the cause, and the cause struck without it.
OTHER_PALLET, OTHER_BOX = 0.45, 0.4
# What was left of them, put back without a label, and used up without a record.
UNLABELLED = range(196, 214)
MOST_UNLABELLED = 4
# A box of MD-80 goes on top of what is in K1, booked as LL-35.
WRONG_GRADE, WRONG_LOT = 160, "K-5517"
PROVED_EMPTY = 262
# The thermocouple of arm A3 drifts: each cook peaks a little lower than the one before.
DRIFT = range(215, 292)
DRIFT_C = -0.5
# A day without the system; the side graphics used on it are past their shelf life.
PAPER_DAY = 268
EXPIRED_ROLL, EXPIRES = "G-77", 262
COLD_SNAP = range(318, 336)
# From here on inspections note the colour, and most the mass; plates are crossed on the bench after it.
CROSSED_FROM = 240
