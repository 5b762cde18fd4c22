"""What Wren Aldous said, note by note, with the entries that each should yield, and the scale photos that go with them."""

from story import BIRDS, CHICK, DAYS, OZ, answer, chicks, flights, food, kit, quarry, seen, sign, step, weather, weights

WEIGHTS = {b["name"]: weights(b) for b in BIRDS}
ONES = ("oh one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen "
        "eighteen nineteen").split()
TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()


def two(n, lead=""):
    """Returns the words of a number below a hundred."""
    if n < 20:
        return lead + ONES[n]
    return TENS[n // 10] + ("-" + ONES[n % 10] if n % 10 else "")


def say(grams):
    """Returns a weight as falconers say it: 932 is "nine thirty-two", 108.8 "one oh eight point eight"."""
    whole, tenth = int(grams), round(grams * 10) % 10
    tail = "hundred" if whole % 100 == 0 else two(whole % 100, "oh " if whole % 100 < 10 else "")
    return ONES[whole // 100] + " " + tail + (" point " + ONES[tenth] if tenth else "")


def say_lb_oz(grams):
    """Returns a weight in pounds, ounces and quarters."""
    quarters = round(grams / OZ * 4)
    pounds, ounces, part = quarters // 64, quarters % 64 // 4, ["", " and a quarter", " and a half", " and three quarters"][quarters % 4]
    return f"{ONES[pounds]} pounds {ONES[ounces]}{part} ounces"


def scale(bird, day, unit=None):
    return ("weight", {"grams": WEIGHTS[bird][day], "unit": unit})


def remark(text):
    return ("remark", {"text": text})


def on(bird, *entries):
    return [(bird, kind, value, []) for kind, value in entries]


def flagged(bird, entry, *flags):
    return [(bird, entry[0], entry[1], list(flags))]


W = WEIGHTS
SOFAR = "confirmed"  # A note of the weeks before, already confirmed.
WAITS = "waits"  # A note that waits for the keeper.

# id, day, clock, voice, file, state, current bird, words, entries
NOTES = [
    ("s01", -27, "18:20", "espeak en-gb+f2", "ogg", SOFAR, "Sedge",
     "Sedge fed on the fist for the first time. Chick and a half. She's nervous, and she bated once.",
     on("Sedge", step("feeding on the fist"), chicks(1.5), seen("nervous"), seen("bating", "slight"))),
    ("s02", -17, "16:45", "flite slt", "m4a", SOFAR, "Sedge",
     "Started Sedge on the creance. Three flights to the fist, longest one metre. Keen. I'd call it fair. Two and a half chicks.",
     on("Sedge", step("creance", "started"), flights(3, 1.0, "creance", "fist"), seen("keen"), answer(3), chicks(2.5))),
    ("s03", -13, "16:20", "espeak en-gb-scotland+f3", "flac", SOFAR, "Teal",
     "First free flight for Teal. Four flights to the lure, longest fifteen metres, and he was immediate. "
     "Half a mouse and three grams of beef.",
     on("Teal", step("free flight"), flights(4, 15.0, "free", "lure"), answer(5), food("mouse", 0.5), food("beef", None, None, 3.0))),
    ("s04", -11, "10:30", "festival us-slt", "wav", SOFAR, "Marlow",
     "Marlow has new jesses in place of the old ones, and I changed the bewit.",
     on("Marlow", kit("jesses", "changed"), kit("bewit", "changed"))),
    ("s05", -7, "08:12", "flite rms wind", "flac", SOFAR, "Sedge",
     f"Sedge, {say(W['Sedge'][-7])} grams.",
     on("Sedge", scale("Sedge", -7, "g"))),
    ("s06", -6, "17:40", "espeak en-gb+f4", "mp3", SOFAR, "Sedge",
     "I fitted a transmitter and a bell on Sedge this evening.",
     on("Sedge", kit("transmitter", "fitted"), kit("bell", "fitted"))),
    ("s07", -5, "15:50", "flite slt", "ogg", SOFAR, "Sedge",
     "First free flight for Sedge. Five flights to the fist, longest twenty metres. Immediate. She's keen. Three chicks.",
     on("Sedge", step("free flight"), flights(5, 20.0, "free", "fist"), answer(5), seen("keen"), chicks(3))),
    ("s08", -4, "18:05", "espeak en-gb+f2", "ogg", SOFAR, None,
     "Right, the evening round, and I'm sitting in the shed because the rain has started and the kettle is on. "
     "Sedge did seven flights to the fist, all free, longest thirty metres. No bating, which is a first. Overall, good. "
     "Two and a half chicks. I walked back by the lane and met the postman, who wanted to know all about it. "
     "Then Teal, nine flights to the lure, free, longest eighty metres, immediate. Half a chick and four grams of beef. "
     "The batteries in the torch are going again, so remind me to buy some. "
     "Marlow, ten flights to the fist, free, longest a hundred and ten metres. Good. Two and a half chicks, and that's the lot.",
     on("Sedge", flights(7, 30.0, "free", "fist"), seen("bating", present=False), answer(4), chicks(2.5))
     + on("Teal", flights(9, 80.0, "free", "lure"), answer(5), food(CHICK, 0.5), food("beef", None, None, 4.0))
     + on("Marlow", flights(10, 110.0, "free", "fist"), answer(4), chicks(2.5))),
    ("s09", -2, "09:10", "flite awb", "m4a", SOFAR, "Teal",
     f"Teal, {say(W['Teal'][-2])} grams. His mutes are watery, and he's sneezing a bit. I'll ring the vet if he's no better on Monday.",
     on("Teal", scale("Teal", -2, "g"), sign("mutes", "watery"), seen("sneezing", "slight"), remark("ring the vet if he's no better on Monday"))),
    ("s10", -1, "08:02", "espeak en-gb+f4", "ogg", SOFAR, "Sedge",
     "Where have I put my other boot. Oh, the dog has it.",
     []),
    ("s11", -1, "08:11", "flite slt", "ogg", WAITS, "Sedge",
     "Sedge, nine hundred and eighty-three grams. Her crop is empty.",
     [("Sedge", "weight", {"grams": 983.0, "unit": "g"}, [])] + on("Sedge", sign("crop", "empty"))),
    ("s12", -1, "15:45", "flite slt", "ogg", WAITS, "Marlow",
     "Marlow chased two rabbits, missed a pheasant, and took a rabbit. Mantling a bit. "
     "He had a rabbit heart, a rabbit leg, and a chick.",
     on("Marlow", quarry("rabbit", 2, "chased"), quarry("pheasant", 1, "missed"), quarry("rabbit", 1, "taken"),
        seen("mantling", "slight"), food("rabbit", 1.0, "heart"), food("rabbit", 1.0, "leg"), chicks(1))),
    ("s13", -1, "16:30", "espeak en-gb-scotland+f2", "m4a", WAITS, "Sedge",
     "Sedge did ten flights to the fist, all free, longest sixty metres. Keen, and five out of five. Two and a half chicks.",
     on("Sedge", flights(10, 60.0, "free", "fist"), seen("keen"), answer(5), chicks(2.5))),
    ("s14", 0, "08:12", "flite slt", "ogg", WAITS, "Sedge",
     f"Sedge, {say(W['Sedge'][0])} grams. She's cast, the crop is empty, and she's keen.",
     on("Sedge", scale("Sedge", 0, "g"), sign("casting", "cast"), sign("crop", "empty"), seen("keen"))),
    ("s15", 0, "08:19", "espeak en-gb+f2", "ogg", WAITS, "Teal",
     f"Teal, one eighteen point eight, no, {say(W['Teal'][0])} grams. Feaking, mutes normal.",
     flagged("Teal", scale("Teal", 0, "g"), "corrected in speech") + on("Teal", seen("feaking"), sign("mutes", "normal"))),
    ("s16", 0, "08:27", "flite rms", "m4a", WAITS, "Marlow",
     f"Marlow, {say_lb_oz(W['Marlow'][0])}. Keel's good.",
     on("Marlow", scale("Marlow", 0, "lb oz"), sign("keel", "good"))),
    ("s17", 0, "08:40", "festival us-slt", "ogg", WAITS, None,
     "Two degrees, clear, light wind.",
     on(None, weather(2.0, "light", "clear"))),
]

# id, day, clock with seconds, bird, reading, unit, the note it belongs to, zone written, seed, look
PHOTOS = [
    ("p01", -13, "08:20:41", "Teal", f"{W['Teal'][-13]:.1f}", "g", None, True, 102, "--tech lcd --ground wood"),
    ("p02", -7, "08:12:30", "Sedge", f"{W['Sedge'][-7]:.0f}", "g", "s05", False, 113, "--tech lcd --ground grass"),
    ("p03", -2, "09:09:52", "Teal", f"{W['Teal'][-2]:.1f}", "g", "s09", True, 125, "--tech backlit --ground cloth"),
    ("p04", -1, "08:11:22", "Sedge", f"{W['Sedge'][-1]:.0f}", "g", "s11", True, 130, "--tech lcd --ground wood"),
    ("p05", 0, "08:12:17", "Sedge", f"{W['Sedge'][0]:.0f}", "g", "s14", True, 143, "--tech lcd --ground wood"),
    ("p06", 0, "08:19:33", "Teal", f"{W['Teal'][0]:.1f}", "g", "s15", True, 152, "--tech led --ground tiles"),
    ("p07", 0, "08:27:08", "Marlow", None, "lb:oz", "s16", True, 161, "--tech lcd --ground feather"),
]


def lb_oz_reading(grams):
    """Returns a weight as a scale of pounds and ounces shows it: 2:2.5."""
    quarters = round(grams / OZ * 4)
    return f"{quarters // 64}:{quarters % 64 / 4:g}"


def check():
    """Fails when a confirmed note says what the story's day does not hold."""
    for ident, day, _, _, _, state, _, _, entries in NOTES:
        for bird, kind, value, _ in entries:
            if state != SOFAR or kind in ("weight", "remark"):
                continue
            assert (kind, value) in DAYS[bird][day], f"{ident}: {bird} on day {day} has no {kind} {value}"
