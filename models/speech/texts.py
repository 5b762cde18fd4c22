#!/usr/bin/env python3
"""Writes made-up spoken notes as pairs: how a keeper says it, and how the page should have it.

usage: texts.py COUNT SEED > pairs.jsonl

Each line is {"spoken", "written", "birds"}: number words to be spoken, figures as figures to be written, and the names on the
roster, which are shown to the model beforehand. A "|" in what is spoken stands for a pause: the pieces are spoken one by one. All notes
are our own; no note of any labelled set is among them, nor any of its birds' names. Beside the notes there are bare
numbers, spelled words, single words and, where the variable PROSE names a file with a sentence a line, ordinary English. The variable
WORDS may name a file of common words: birds are called all sorts of things, and what is to be learnt is to spell the names shown.
EXCEPT may name a file of names that must not come up.
"""
import json
import os
import pathlib
import random
import re
import sys

ONES = "nought one two three four five six seven eight nine ten eleven twelve thirteen fourteen fifteen sixteen seventeen eighteen nineteen".split()
TENS = "- - twenty thirty forty fifty sixty seventy eighty ninety".split()

NAMES = """Aspen Alder Amber Apollo Archie Ariel Arrow Artemis Ash Astra Athena Aurora Badger Baldur Bandit Basil Beech Bella Betty
Birch Biscuit Blaze Blitz Blossom Bolt Bonnie Boris Boudica Bracken Brae Bramble Briar Brodie Bronte Bryony Bruno Burdock Buster
Buzz Caesar Caleb Calypso Casper Celeste Chance Charlie Chestnut Chloe Clover Clyde Coal Comet Copper Coral Corvin Cosmo Cricket
Crystal Cyrus Daisy Damson Dante Dash Delta Diesel Dill Domino Dora Drake Dusk Dusty Ebony Echo Ellie Elm Ember Epona Eric Ernie
Eve Falstaff Fay Fennel Fergus Fidget Finn Firefly Fleet Fleur Foxglove Frank Freya Frost Fury Gale Galen Garnet George Ginger Gimli
Glen Goldie Goose Grace Gretel Griff Guinness Gus Gypsy Hades Harley Harper Harvey Hawthorn Heather Hector Heidi Helga Henna Hera
Hermes Holly Honey Horace Huckle Hunter Iona Iris Isis Islay Ivy Jack Jade Jasmine Jasper Jess Jet Jinx Josie Jove Juno June Kai Katla
Kelpie Kes Kestra Kiki Kite Koda Lady Lark Larch Laurel Leo Levi Lightning Lily Linnet Loki Lola Lottie Luna Lyra Mabel Mace Magnus
Maisie Maple Marble Marigold Marlow Mars Maverick May Mercury Merlin Midge Millie Mimosa Minerva Mist Misty Molly Monty Morgan Morrigan
Murphy Myrtle Nancy Nell Nero Nettie Niamh Nimbus Noah Nutmeg Oak Oakley Odin Olive Olga Onyx Opal Orla Orion Oscar Osprey Otis Otto
Paddy Pandora Pansy Peanut Pearl Pebble Penny Pepper Percy Perdita Petra Phoebe Phoenix Piper Pippin Plum Polly Poppy Primrose Puck
Quartz Queenie Quince Rafferty Raven Rebel Reed Remus Rex Rhea Ripley River Robin Rocky Rogue Roman Romy Rook Rosa Rosie Rowan Ruby Rue
Rufus Rusty Sable Sabre Saffy Sage Sasha Scarlet Scout Sedge Shadow Sheba Sienna Sika Silver Simba Skye Sleet Smudge Socks Solo Sonny
Spark Speedwell Spike Spirit Spruce Squall Star Stella Storm Sunny Susie Swift Sybil Tara Tarn Tawny Taz Teal Tempest Tess
Thistle Thor Thorn Thyme Tiger Tilly Tinker Titan Toby Topaz Tor Tully Twig Tyson Ursa Valentine Vega Velvet Venus Vesper Viking Viola
Violet Vixen Willa Willow Winnie Winter Wren Xena Yarrow Yew Ziggy Zara Zelda Zephyr Zeus Zorro Zulu""".split()

FOOD = """chick|day-old|day-old chick|cockerel|quail|mouse|rat|gerbil|hamster|sparrow|starling|pigeon|tidbit|titbit""".split("|")
MEATS = "rabbit hare squirrel pigeon pheasant partridge duck turkey chicken beef venison quail rat".split() + ["washed beef", "washed rabbit", "washed meat", "rangle", "moorhen", "crow"]
PARTS = "head neck leg wing breast heart liver back foot yolk".split()
IRREGULAR = {"mouse": "mice", "foot": "feet", "leaf": "leaves"}
VERBS = [("bate", "bated", "bating"), ("mantle", "mantled", "mantling"), ("foot", "footed", "footing"), ("scream", "screamed", "screaming"),
         ("hiss", "hissed", "hissing"), ("feak", "feaked", "feaking"), ("rouse", "roused", "rousing"), ("preen", "preened", "preening"),
         ("warble", "warbled", "warbling"), ("sneeze", "sneezed", "sneezing"), ("pant", "panted", "panting"), ("sulk", "sulked", "sulking"),
         ("bite", "bit me", "biting"), ("limp", "limped", "limping"), ("carry", "carried", "carrying"), ("grip", "gripped", "gripping"),
         ("drink", "drank", "drinking"), ("bathe", "bathed", "bathing"), ("droop", "drooped", "drooping"), ("stoop", "stooped", "stooping")]
TRAITS = """keen|in yarak|in full yarak|calm|relaxed|tame|nervous|wild|aggressive|distracted|sluggish|fed up|fluffed|fluffed up|asleep|sleepy|sharp|sharp set|
hungry|eager|switched on|lazy|hood shy|settled|steady|jumpy|on edge|drowsy|bright|quiet|slow|well behaved|grumpy|not focused|looking about""".replace("\n", "").split("|")
DEGREES = ["a bit", "a little", "a lot", "constantly", "once", "twice", "a touch", "all the time", "like mad", "", "", "", "", ""]
PRAISE = """instant|immediate|straight to the fist|flew well|good response|poor response|slow response|took {her} time|ignored me|came well|came okay|not bad|alright|
okay|fair|very good|answered at once|no response|a bit slow to come|came like a shot|on the glove before I'd whistled|late but she came|refused to come|
four out of five|three out of five|five out of five|two out of five|one out of five|seven out of ten|eight out of ten|nine out of ten|six out of ten|ten out of ten""".replace("\n", "").split("|")
KIT = """jesses|anklets|leash|swivel|bell|bells|bewit|tail mount|transmitter|tracker|harness|hood|glove|perch|lure|creance|scales|ring|bow perch|block|aylmeri jesses""".replace("\n", "").split("|")
STEPS = """manning|feeding on the fist|stepping to the fist|jumping to the fist|the creance|creance work|perch to perch|the whistle|the lure|the hood|the travel box|
telemetry|free flight|entering|hunting""".replace("\n", "").split("|")
QUARRY = "rabbit hare squirrel pheasant partridge grouse duck moorhen crow rook magpie jackdaw gull pigeon starling sparrow lark rat vole cottontail jackrabbit".split()
SKY = """raining|drizzle|clear|clear skies|cloudy|overcast|foggy|misty|snowing|frosty|frost on the ground|sunny|bright and clear|light rain|pouring""".replace("\n", "").split("|")
WIND = """no wind|dead calm|calm|light wind|a bit of wind|a breeze|moderate wind|windy|strong wind|blowing hard|blowing a gale|gusting|gusting strong|breezy""".replace("\n", "").split("|")
CHAT = """Hang on a minute.|Right then.|Okay.|Let me see.|What was I saying.|The dog's got the glove again.|Phone's nearly dead.|Gate was open when I got here.|
My hands are frozen.|That's it for today.|More tomorrow.|Where did I put the whistle.|I must order more chicks.|Remind me to buy batteries.|The farmer waved.|
The kettle's on.|It's been a long day.|Can you hear me.|Testing, testing.|I'll do the rest later.|Traffic was awful.|The neighbour's cat was watching.|
Half the village came to look.|I forgot my hat.|There were walkers all over the place.|Somebody left the gate on the latch.|He said he'd phone back on Tuesday.|
I can't read my own writing.|We sat in the van until it stopped.|The light was going by then.|I should have brought a coat.|Nothing else to say, really.|
The lads from the club were there.|She never liked that dog.|Her old owner rang.|It took me an hour to find the key.|The freezer door was open again.""".replace("\n", "").split("|")


def words(n, rnd, full=False):
    """A whole number below a million in words."""
    if n < 20:
        return ONES[n]
    if n < 100:
        return TENS[n // 10] + ("-" + ONES[n % 10] if n % 10 else "")
    if n < 1000:
        rest = n % 100
        joint = " and " if full or rnd.random() < 0.8 else " "
        head = ("a" if n < 200 and rnd.random() < 0.5 else ONES[n // 100]) + " hundred"
        return head + (joint + words(rest, rnd) if rest else "")
    rest = n % 1000
    head = ("a" if n < 2000 and rnd.random() < 0.4 else words(n // 1000, rnd)) + " thousand"
    return head + ((" and " if rest < 100 else " ") + words(rest, rnd) if rest else "")


def pairwise(n):
    """642 as six forty-two, 905 as nine oh five, 1040 as ten forty."""
    high, low = divmod(n, 100)
    tail = "hundred" if low == 0 else ("oh " + ONES[low] if low < 10 else (ONES[low] if low < 20 else TENS[low // 10] + ("-" + ONES[low % 10] if low % 10 else "")))
    head = ONES[high] if high < 20 else TENS[high // 10] + ("-" + ONES[high % 10] if high % 10 else "")
    return head + " " + tail


def spell(n):
    return " ".join("oh" if d == "0" else ONES[int(d)] for d in str(n))


def few(n):
    """A small count as it is said and as it is written: words below ten, figures from ten."""
    said = ONES[n] if n < 20 else TENS[n // 10] + ("-" + ONES[n % 10] if n % 10 else "")
    return said, (said if n < 10 else str(n))


def ordinary():
    """Sentences of ordinary talk with look-alikes of trade words, kept beside the grammar: they must stay what they are."""
    beside = pathlib.Path(os.environ.get("ORDINARY", pathlib.Path(__file__).parents[2] / "extract/corpus/never/look-alikes.txt"))
    lines = [line.strip() for line in beside.read_text(encoding="utf-8").splitlines()]
    return [line[0].upper() + line[1:] + ("" if line[-1] in ".!?" else ".") for line in lines if len(line.split()) > 2 and line[0] not in "#@="]


def lines_of(variable):
    """The lines of the file that a variable of the environment names; none without it."""
    path = os.environ.get(variable)
    return pathlib.Path(path).read_text(encoding="utf-8").split("\n") if path else []


ORDINARY = ordinary()
PROSE = [line for line in lines_of("PROSE") if line]
EXCEPT = {name.lower() for name in lines_of("EXCEPT")}
COMMON = [word for word in lines_of("WORDS") if re.fullmatch("[a-z]{3,10}", word) and word not in EXCEPT and not word.endswith(("s", "ing", "ed", "ly"))]
CALLED = [name for name in NAMES if name.lower() not in EXCEPT]
HOURS = ONES[1:13]
CLOCK = ["{h}", "{h} o'clock", "half {h}", "half past {h}", "quarter past {h}", "a quarter past {h}", "quarter to {h}", "ten past {h}", "twenty past {h}",
         "twenty to {h}", "ten to {h}", "five past {h}", "twenty-five to {h}"]
DAYS = "Monday Tuesday Wednesday Thursday Friday Saturday Sunday".split()


class Maker:
    def __init__(self, seed):
        self.r = random.Random(seed)

    def name(self):
        """A bird's name: one of ours, or a common word."""
        if COMMON and self.r.random() < 0.55:
            return self.r.choice(COMMON).capitalize()
        return self.r.choice(CALLED)

    def short(self, name):
        """What a keeper makes of a name in passing."""
        stem = name[: self.r.choice([3, 3, 4])]
        if len(name) > 4:
            return self.pick(stem, stem + "ie", stem + "y")
        return name.rstrip("ey") + "ie"

    def when(self):
        """A time of day."""
        return self.pick(*CLOCK).replace("{h}", self.r.choice(HOURS))

    def pick(self, *items):
        return self.r.choice(items)

    def grams(self):
        """A weight in grams: (spoken, written)."""
        r = self.r
        kind = r.random()
        if kind < 0.12:
            tenths = r.randrange(850, 3999)
            whole, part = divmod(tenths, 10)
            said = self.pick(pairwise(whole), pairwise(whole), words(whole, r)) if whole >= 100 else words(whole, r)
            unit = self.unit()
            return f"{said} point {ONES[part]}{unit}", f"{whole}.{part}{unit}"
        if kind < 0.27:
            n = r.randrange(1000, 2000)
            said = r.choices([pairwise(n), words(n, r), spell(n)], [7, 2, 0.4])[0] if n % 100 else words(n, r)
        elif kind < 0.34:
            return self.kilos()
        else:
            low = r.choice([100, 150, 400, 600, 800, 850])
            n = r.randrange(low, 1000)
            if r.random() < 0.1:
                n = n // 100 * 100 + r.randrange(0, 10)
            said = r.choices([pairwise(n), words(n, r), spell(n)], [8, 2, 0.5])[0]
        unit = self.unit()
        return said + unit, str(n) + unit

    def unit(self):
        return self.r.choices(["", " grams", " dead", " exactly"], [6, 3, 0.3, 0.2])[0]

    def kilos(self):
        r = self.r
        way = r.randrange(4)
        whole = r.choice([1, 1, 1, 2, 3, 4])
        if way == 0:
            digits = r.randrange(1, 3)
            part = [r.randrange(10) for _ in range(digits + 1)]
            unit = self.pick("kilos", "kilos", "kilograms")
            return f"{ONES[whole]} point {' '.join('oh' if p == 0 and r.random() < 0.5 else ('zero' if p == 0 else ONES[p]) for p in part)} {unit}", \
                f"{whole}.{''.join(map(str, part))} {unit}"
        n = r.randrange(5, 995)
        said, kilo = (ONES[whole], "kilo" if whole == 1 else "kilos")
        figure = str(whole)
        if whole == 1 and r.random() < 0.7:
            said = figure = "a"
        joint = " and " if n < 100 else " "
        rest = words(n, r, True) if way == 1 or n < 100 else pairwise(n)
        return f"{said} {kilo}{joint}{rest}", f"{figure} {kilo}{joint}{n}"

    def ounces(self):
        """A weight in pounds and ounces: (spoken, written)."""
        r = self.r
        part = r.choice(["", "", "", " and a half", " and a half", " and a quarter", " and a quarter", " and three quarters", " and three quarters", " and an eighth",
                         " and three eighths", " and five eighths", " and seven eighths"])
        ounce = r.randrange(1, 16)
        if r.random() < 0.4:
            ounce = r.randrange(3, 31)
            tail = "ounces"
            if part == " and three quarters":
                part, tail = " and three quarter", "ounces"
            return f"{few(ounce)[0]}{part} {tail}", f"{ounce}{part} {tail}"
        pound = r.randrange(1, 9)
        if r.random() < 0.3:
            said = f"{ONES[pound]} {few(ounce)[0]}{part}"
            return said, said
        unit = self.pick(" ounces", " ounces", "")
        if part == " and three quarters" and unit:
            part = " and three quarter"
        pounds = "pound" if pound == 1 else "pounds"
        return f"{ONES[pound]} {pounds} {few(ounce)[0]}{part}{unit}", f"{pound} {pounds} {ounce}{part}{unit}"

    def weight(self):
        return self.ounces() if self.imperial else self.grams()

    def count(self, low=1, high=9):
        return few(self.r.randrange(low, high + 1))

    def plural(self, word):
        for one, many in IRREGULAR.items():
            if word.endswith(one):
                return word[: -len(one)] + many
        return word if word in ("quail", "grouse") else word + "s"

    def item(self):
        r = self.r
        way = r.random()
        if way < 0.4:
            food = r.choice(FOOD)
            said, written = self.count(1, 5)
            if said == "one":
                one = self.pick("a", "one")
                return f"{one} {food}", f"{one} {food}"
            return f"{said} {self.plural(food)}", f"{written} {self.plural(food)}"
        if way < 0.6:
            food = f"{r.choice(FOOD[:9] + MEATS[:10])} {r.choice(PARTS)}"
            said, _ = self.count(1, 4)
            text = f"{self.pick('a', 'one', 'the')} {food}" if said == "one" else f"{said} {self.plural(food)}"
            return text, text
        if way < 0.75:
            text = self.pick("half a", "half a", "three quarters of a", "a quarter of a", "most of a", "one and a half", "two and a half") + " "
            food = r.choice(FOOD[:12])
            text += self.plural(food) if "and a half" in text else food
            return text, text
        if way < 0.9:
            n = r.choice([8, 10, 12, 15, 18, 20, 25, 30, 35, 40, 45, 50, 60, 80, 100, 120, 150, 200])
            meat = r.choice(MEATS)
            return f"{words(n, r)} grams of {meat}", f"{n} grams of {meat}"
        text = self.pick("some", "a bit of", "a few tidbits and some", "a scrap of", "plenty of") + " " + r.choice(MEATS)
        return text, text

    def food(self):
        a, b = self.item()
        if self.r.random() < 0.35:
            c, d = self.item()
            a, b = f"{a} and {c}", f"{b} and {d}"
        shape = self.pick("{}", "{}", "{}", "gave {her} {}", "fed {her} {}", "{she} had {}", "{she}'s had {}", "{she} ate {}", "{} for {her}", "{she} left {}",
                          "{she} refused {}", "offered {her} {}", "{} on the fist", "{she} took {}", "put {her} away with {}", "finished on {}", "ended on {}")
        return shape.replace("{}", a), shape.replace("{}", b)

    def flights(self):
        a, b = self.count(2, 14)
        shape = self.pick("{} flights", "{} flights to the fist", "{} flights to the lure", "{} flights to the perch", "{} flights on the creance", "flew {her} free, {} flights",
                          "{} to the fist", "{} flights, all free", "did {} flights to the glove", "{} jumps to the fist", "{} stoops at the lure", "{} recalls")
        said, written = shape.replace("{}", a), shape.replace("{}", b)
        if self.r.random() < 0.6:
            n = self.r.choice([1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 18, 20, 25, 30, 35, 40, 45, 50, 55, 60, 65, 70, 80, 90, 100, 110, 120, 140, 150, 180, 200, 250, 300])
            unit = self.pick("metres", "metres", "metres", "yards", "feet")
            much = words(n, self.r)
            about = self.pick("", "", "about ", "maybe ", "a good ")
            word = self.pick("longest", "longest", "the longest", "furthest", "out to", "from")
            said += f", {word} {about}{much} {unit}"
            written += f", {word} {about}{few(n)[1] if n < 10 else n} {unit}"
        return said, written

    def behaviour(self):
        r = self.r
        verb = r.choice(VERBS)
        degree = r.choice(DEGREES)
        tail = f" {degree}" if degree else ""
        text = self.pick(f"{verb[2]}{tail}", f"{{she}} {verb[1]}{tail}", f"{{she}}'s {verb[2]}{tail}", f"no {verb[2]}", f"didn't {verb[0]}", f"{{she}} was {verb[2]}{tail}",
                         f"{r.choice(TRAITS)}", f"{{she}}'s {r.choice(TRAITS)}", f"very {r.choice(TRAITS)}", f"{{she}} was {self.pick('really', 'quite', 'pretty', 'a bit')} {r.choice(TRAITS)}",
                         f"not {r.choice(TRAITS)}", "landed on the ground", "raked away", "overflew me", "waited on nicely", "sat tight in a tree", "self hunting", "soaring",
                         "{she} had a bath", "sunning {herself} on the block", "{she} footed me", "mantled over {her} food", "started mantling as soon as {she} saw me", "bated off the fist",
                         "bated from the block", "feaked on the perch", "roused and preened", "a rouse and a warble")
        return text, text

    def condition(self):
        r = self.r
        text = self.pick("crop empty", "crop's full", "half crop", "half a crop", "quarter crop", "three quarter crop", "full crop", "a good crop", "empty crop", "{she}'s cast", "cast this morning",
                         "no casting", "no casting yet", "casting was late", "not cast", "hasn't cast", "keel's sharp", "keel's good", "keel's fat", "keel sharp", "keel good", "mutes normal",
                         "mutes are normal", "mutes green", "mutes are green", "watery mutes", "dark mutes", "no mutes", "mutes good", "{she}'s dropped a primary", "dropped a tail feather",
                         "started the moult", "moult's finished", "beak needs coping", "a talon's chipped", "feather frayed on the left wing", "foot swollen", "bruise on the right foot")
        if r.random() < 0.1:
            a = self.count(1, 5)[0]
            return f"keel {a} out of five", f"keel {a} out of five"
        return text, text

    def answer(self):
        text = self.r.choice(PRAISE)
        digits = {w: str(i) for i, w in enumerate(ONES[:11])}
        match = re.fullmatch(r"(\w+) out of (\w+)", text)
        return text, (f"{digits[match[1]]} out of {digits[match[2]]}" if match and self.r.random() < 0.0 else text)

    def weather(self):
        n = self.r.randrange(-6, 31)
        sign = self.pick("minus ", "minus ") if n < 0 else ""
        degrees = (f"{sign}{few(abs(n))[0]} degree{'s' if abs(n) != 1 else ''}", f"{sign}{abs(n)} degree{'s' if abs(n) != 1 else ''}")
        parts = [degrees, (self.r.choice(SKY),) * 2, (self.r.choice(WIND),) * 2]
        self.r.shuffle(parts)
        parts = parts[: self.r.randrange(1, 4)]
        return ", ".join(p[0] for p in parts), ", ".join(p[1] for p in parts)

    def kit(self):
        k = self.r.choice(KIT)
        text = self.pick(f"fitted new {k}", f"put new {k} on", f"new {k}", f"changed the {k}", f"took the {k} off", f"lost a {k}", f"broke {{her}} {k}", f"checked the {k}", f"fitted the {k}",
                         f"lost {{her}} {k}", f"{{she}}'s broken {{her}} {k}", f"swapped the {k}", f"the {k} came off", f"{{her}} {k} is worn", f"changed {{her}} {k}")
        return text, text

    def training(self):
        s = self.r.choice(STEPS)
        text = self.pick(f"first time on {s}", f"started {s}", f"started {{her}} on {s}", f"first day of {s}", f"planning {s} for the weekend", f"refused {s}", f"{s} went well", f"first time with {s}",
                         "first free flight", "first time on the creance", "stepped to the fist for the first time", "jumped to the fist for the first time", "fed on the fist for the first time",
                         "took the hood for the first time", "refused the hood", "first time in the travel box", "on the creance for the first time", "creance next week", "off the creance at last",
                         "line flights on the creance", "clipped the creance on", "the creance snagged on a thistle")
        return text, text

    def quarry(self):
        q = self.r.choice(QUARRY)
        a, b = self.count(1, 4)
        many = self.plural(q)
        one = self.pick("a", "one")
        n = (f"{one} {q}", f"{one} {q}") if a == "one" else (f"{a} {many}", f"{b} {many}")
        shape = self.pick("took {}", "{she} took {}", "missed {}", "chased {}", "{she} chased {} and missed", "caught {}", "killed {}", "flushed {}", "{she} missed {}", "had a go at {}")
        return shape.replace("{}", n[0]), shape.replace("{}", n[1])

    def remark(self):
        text = self.pick("the vet's coming on Thursday", "booked the vet for tomorrow morning", "I'm ringing the vet if it's no better", "the vet looked at {her} foot", "{her} left foot looks swollen",
                         "{she}'s a bit quiet today", "moved {her} to the other aviary", "the ring has gone missing", "need to clean the mews", "wormed {her} today", "weighed {her} twice to be sure",
                         "{she} was on the lawn all day", "the scales want a new battery", "{her} permit runs out in May", "somebody from the council came")
        return text, text

    def weigh(self, name):
        """The weight with its frame: (spoken, written)."""
        said, written = self.weight()
        r = self.r
        if r.random() < 0.12:
            wrong = self.weight()
            fix = self.pick("no", "sorry", "no, sorry", "make that", "scratch that", "I mean", "correction", "no wait")
            said, written = f"{wrong[0]}, {fix}, {said}", f"{wrong[1]}, {fix}, {written}"
        shape = self.pick("{N}, {W}", "{N}, {W}", "{N}, {W}", "{N}, {W}", "{N} {W}", "{N}'s {W}", "{N} is {W}", "{N} was {W}", "{N} weighed {W}", "{N} weighed in at {W}", "{W} for {N}", "{N} came in at {W}",
                          "{N}'s up at {W}", "{N} is down to {W}", "{N} at {W}", "weighed {N}, {W}", "{W}", "{she}'s {W}", "now {she}'s {W}", "after flying, {W}", "after flying {she}'s {W}", "before flying {W}",
                          "this morning {N} was {W}", "{N} on the scales, {W}", "so {N} is {W} today", "{N} was {W} yesterday", "I make that {W} for {N}", "{N} next, {W}", "right, {N}, {W}", "{N}, um, {W}",
                          "{N}, er, {W}", "{N} steady on {W}", "scales say {W}", "{N}'s gone up to {W}", "{N}'s dropped to {W}", "aiming for {W}", "I want {her} at {W}", "last night {N} was {W}")
        return shape.replace("{W}", said).replace("{N}", name), shape.replace("{W}", written).replace("{N}", name)

    def note(self):
        r = self.r
        if r.random() < 0.28:
            return r.choice([self.figures, self.figures, self.letters, self.one_word, self.prose, self.prose, self.look_alike])()
        roster = list(dict.fromkeys(self.name() for _ in range(r.choices([1, 2, 3, 5, 8, 12], [8, 4, 3, 2, 1, 1])[0])))
        shown, nicknames = [], r.random() < 0.3
        for name in roster:
            shown += [name, self.short(name)] if nicknames else [name]
        self.imperial = r.random() < 0.17
        spoken, written = [], []
        for name in roster[: r.choices([1, 2, 3], [8, 2, 1])[0]]:
            if nicknames and r.random() < 0.3:
                name = shown[shown.index(name) + 1]
            she = r.random() < 0.6
            clauses = []
            if r.random() < 0.75:
                clauses.append(self.weigh(name))
            else:
                opening = self.pick(f"{name}", f"{name}", f"right, {name}", f"and {name}", f"now {name}", f"{name} today", f"so {name}")
                if r.random() < 0.85:
                    clauses.append((opening, opening))
            kinds = [self.food, self.flights, self.behaviour, self.condition, self.answer, self.weather, self.kit, self.training, self.quarry, self.remark]
            odds = [5, 2, 5, 4, 2, 1.5, 1.2, 1.6, 1.2, 0.7]
            for make in r.choices(kinds, odds, k=r.choices([0, 1, 2, 3, 4, 5], [2, 4, 4, 3, 1.5, 0.7])[0]):
                clauses.append(make())
            if not clauses:
                clauses.append(self.weigh(name))
            gender = {"{she}": "she" if she else "he", "{herself}": "herself" if she else "himself", "{her}": "her" if she else ("him" if r.random() < 0.5 else "his")}
            stops = [", " if r.random() < 0.6 else ". " for _ in clauses]
            for out, side in ((spoken, 0), (written, 1)):
                text, begin = "", True
                for clause, stop in zip(clauses, stops):
                    piece = clause[side]
                    for key, value in gender.items():
                        piece = piece.replace(key, value)
                    text += (piece[0].upper() + piece[1:] if begin else piece) + stop
                    begin = stop == ". "
                out.append(text.rstrip(", .") + ".")
        if r.random() < 0.15:
            place = r.choice([0, len(spoken)])
            chat = r.choice(CHAT)
            spoken.insert(place, chat)
            written.insert(place, chat)
        if r.random() < 0.06:
            shown = []
        said = " ".join(spoken)
        if not 4 < len(said) <= 260:
            return self.note()
        if r.random() < 0.1:
            said = self.slowly(said)
        return {"spoken": said, "written": " ".join(written), "birds": shown}

    def slowly(self, said):
        """The same with pauses after every word or every few."""
        most = self.r.choice([1, 1, 2, 3, 4])
        out, run = "", 0
        for word in said.split(" "):
            run += 1
            stop = run >= self.r.randrange(1, most + 1)
            out += word + ("|" if stop else " ")
            run = 0 if stop else run
        return out.strip("| ")

    def pair(self, said, written, slow):
        """A text beside the notes: sometimes word by word, sometimes with a roster that has nothing to do with it."""
        if self.r.random() < slow:
            said = re.sub("[ -]", "|", said) if self.r.random() < 0.7 else self.slowly(said)
        return {"spoken": said, "written": written, "birds": [self.name() for _ in range(self.r.choice([0, 0, 1, 2, 4]))]}

    def figures(self):
        """A bare number in every way that numbers are said."""
        r = self.r
        way = r.randrange(9)
        if way <= 1:
            n = "".join(r.choice("0123456789") for _ in range(r.choice([3, 3, 3, 3, 4, 4, 5, 6, 7])))
            zero = self.pick("oh", "zero", "zero", "nought")
            return self.pair(" ".join(zero if d == "0" else ONES[int(d)] for d in n), n + ".", 0.65)
        if way <= 5:
            n = r.choice([r.randrange(13, 100), r.randrange(100, 1000), r.randrange(100, 1000), r.randrange(1000, 2000), r.randrange(1000, 10000)])
            said = words(n, r)
            said = said.replace(" and ", " ") if r.random() < 0.45 else said
            return self.pair(said, f"{n}.", 0.6)
        if way == 6:
            n = r.randrange(100, 2000)
            return self.pair(pairwise(n) if n % 100 else words(n, r), f"{n}.", 0.4)
        if way == 7:
            whole, part = r.randrange(1, 1200), "".join(r.choice("0123456789") for _ in range(r.choice([1, 1, 2, 3])))
            said = self.pick(words(whole, r), pairwise(whole) if whole > 109 and whole % 100 else words(whole, r))
            return self.pair(f"{said} point {spell(part)}", f"{whole}.{part}.", 0.3)
        said, written = self.grams() if r.random() < 0.6 else self.ounces()
        return self.pair(said, written[0].upper() + written[1:] + ".", 0.5)

    def letters(self):
        """A word spelled letter by letter, with figures between sometimes."""
        r = self.r
        if COMMON and r.random() < 0.6:
            spelled = list(r.choice(COMMON + NAMES).upper())
        else:
            spelled = [r.choice("ABCDEFGHIJKLMNOPQRSTUVWXYZ" + "0123456789" * (r.random() < 0.4)) for _ in range(r.randrange(2, 9))]
        said = " ".join(self.pick("oh", "zero") if x == "0" else ONES[int(x)] if x.isdigit() else x + "." if x == "A" else x for x in spelled)
        return self.pair(said, "-".join(spelled) + ".", 0.6)

    def one_word(self):
        """A word or two by themselves."""
        own = "yes no go stop start repeat help again next right left okay thanks hello good bad done ready wait back up down on off".split()
        said = " ".join(self.r.choice(COMMON + own if self.r.random() < 0.5 else own) for _ in range(self.r.choice([1, 1, 1, 2])))
        return self.pair(said, said.capitalize() + ".", 0.3)

    def prose(self):
        """Ordinary English that has nothing to do with birds."""
        said = self.r.choice(PROSE or ORDINARY)
        return self.pair(said, said, 0.06)

    def look_alike(self):
        """Ordinary talk with words that sound like the trade's."""
        said = self.r.choice(ORDINARY)
        return self.pair(said, said, 0.06)


def main():
    maker = Maker(int(sys.argv[2]))
    for _ in range(int(sys.argv[1])):
        print(json.dumps(maker.note()))


if __name__ == "__main__":
    main()
