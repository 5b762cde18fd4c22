"""The story that the samples tell: keeper Wren Aldous, three birds, four weeks up to a Saturday morning.

Nobody and no bird here is real. Weights follow an energy budget, so that what is eaten and what the scale says the next
morning belong together; the figures are those of `weights()` below. Days count from the story's last day, day 0.
"""

import random

KEEPER = "Wren Aldous"
LAST_DAY = "2026-02-21"  # Day 0 in the files' own clocks: a Saturday.
OFFSET = "+00:00"
CHICK, LB, OZ = "day-old chick", 453.59237, 28.349523125

BIRDS = [
    {"name": "Sedge", "aliases": [], "species": "Harris's hawk", "sex": "female", "hatched_days_ago": 289, "units": "metric",
     "floor_g": 850.0, "target_g": 922.0, "fed_up_g": 1003.0, "furniture_g": 9.0,
     "identity": {"ring": "closed ring 17 WA 25", "origin": "captive bred", "acquired_days_ago": 34}},
    {"name": "Teal", "aliases": ["Tealy"], "species": "American kestrel", "sex": "male", "hatched_days_ago": 655, "units": "metric",
     "floor_g": 96.0, "target_g": 106.5, "fed_up_g": 117.0, "furniture_g": 1.8,
     "identity": {"ring": "closed ring 08 WA 24", "origin": "captive bred", "acquired_days_ago": 590}},
    {"name": "Marlow", "aliases": [], "species": "red-tailed hawk", "sex": "male", "hatched_days_ago": 1398, "units": "avoirdupois",
     "floor_g": 870.0, "target_g": 965.0, "fed_up_g": 1075.0, "furniture_g": 12.0,
     "identity": {"ring": "closed ring 31 WA 22", "origin": "captive bred", "acquired_days_ago": 1310}},
]

# Metabolizable energy as fed, kcal a gram, and grams an item. Whole prey: measured in an owl by Duke, Ciganek & Evanson 1973
# on diets like these; cuts: USDA National Nutrient Database SR28 (quail 05157 and 05158, rabbit 17177, beef 13227).
ENERGY = {CHICK: (1.12, 40.0), "mouse": (1.51, 27.0), "quail": (1.34, 150.0), "beef": (1.28, 5.0), "rabbit": (1.36, 90.0),
          "pheasant": (1.6, 60.0)}
PARTS = {"leg": 3.5, "heart": 3.0, "wing": 2.0, "head": 5.0, "breast": 40.0}  # Grams; of quail and larger the breast.


def lb_oz(pounds, ounces):
    """Returns grams to 0.1, from the exact avoirdupois pound (NIST Handbook 44, Appendix C)."""
    return round(pounds * LB + ounces * OZ, 1)


def food(item, count=None, part=None, grams=None, outcome="eaten"):
    return ("food", {"item": item, "count": count, "part": part, "grams": grams, "outcome": outcome})


def flights(count, longest, line, to):
    return ("flights", {"count": count, "longest_m": longest, "line": line, "to": to})


def answer(grade):
    return ("response", {"grade": grade})


def seen(word, degree="plain", present=True):
    return ("behaviour", {"word": word, "present": present, "degree": degree})


def sign(sign, reading):
    return ("condition", {"sign": sign, "reading": reading})


def step(step, outcome="done"):
    return ("training", {"step": step, "outcome": outcome})


def kit(item, action):
    return ("equipment", {"item": item, "action": action})


def quarry(species, count, outcome):
    return ("quarry", {"species": species, "count": count, "outcome": outcome})


def weather(t, wind, sky):
    return ("weather", {"temperature_c": t, "wind": wind, "sky": sky})


def chicks(n):
    return food(CHICK, float(n))


# What happened on each day, the weights aside. On a line the flights begin at about a metre and grow each time, and stop
# when the answers slow; the new kit goes on the evening before; nothing else changes on the first free day; after that
# fitness and weight rise together (common practice, no source).
SEDGE = {
    -28: [step("manning", "started"), seen("wild"), seen("bating", "strong"), food(CHICK, 1.0, outcome="refused"), chicks(1)],
    -27: [step("feeding on the fist"), seen("nervous"), seen("bating", "slight"), chicks(1.5)],
    -26: [seen("bating", "slight"), seen("nervous", "slight"), chicks(2)],
    -25: [seen("calm"), seen("feaking"), chicks(1.5)],
    -24: [step("stepping to the fist"), seen("mantling"), chicks(2)],
    -23: [answer(3), seen("mantling", "slight"), chicks(1.5)],
    -22: [step("jumping to the fist"), answer(3), chicks(2)],
    -21: [answer(2), seen("distracted"), chicks(1.5)],
    -20: [step("hood"), answer(3), seen("rousing"), chicks(2)],
    -19: [step("whistle", "started"), answer(4), seen("keen"), chicks(1.5)],
    -18: [answer(4), seen("keen"), seen("bating", present=False), chicks(2)],
    -17: [step("creance", "started"), flights(3, 1.0, "creance", "fist"), answer(3), seen("keen"), chicks(2.5)],
    -16: [flights(4, 2.0, "creance", "fist"), answer(4), seen("keen"), chicks(2)],
    -15: [flights(5, 4.0, "creance", "fist"), answer(4), seen("mantling", "slight"), chicks(2.5)],
    -14: [flights(5, 8.0, "creance", "fist"), answer(4), seen("keen"), chicks(2.5)],
    -13: [flights(6, 12.0, "creance", "fist"), answer(5), seen("keen", "strong"), chicks(2.5)],
    -12: [chicks(2.5)],
    -11: [flights(4, 15.0, "creance", "fist"), answer(3), seen("distracted", "slight"), chicks(2)],
    -10: [flights(6, 20.0, "creance", "fist"), answer(4), seen("keen"), chicks(2.5)],
    -9: [flights(6, 30.0, "creance", "fist"), answer(5), seen("keen"), chicks(3)],
    -8: [flights(7, 40.0, "creance", "fist"), answer(4), step("travel box"), chicks(2.5)],
    -7: [flights(6, 50.0, "creance", "fist"), answer(5), seen("keen"), chicks(2.5)],
    -6: [flights(5, 50.0, "creance", "fist"), answer(5), kit("transmitter", "fitted"), kit("bell", "fitted"), chicks(2.5)],
    -5: [step("free flight"), flights(5, 20.0, "free", "fist"), answer(5), seen("keen"), chicks(3)],
    -4: [flights(7, 30.0, "free", "fist"), answer(4), seen("bating", present=False), chicks(2.5)],
    -3: [flights(8, 45.0, "free", "fist"), answer(5), seen("keen"), chicks(2.5)],
    -2: [flights(10, 60.0, "free", "fist"), answer(4), seen("landing on ground", "slight"), chicks(3)],
    -1: [flights(10, 60.0, "free", "fist"), answer(5), seen("keen"), chicks(2.5)],
}
HALF = chicks(0.5)
TEAL = {
    -28: [sign("moult", "finished"), seen("nervous"), HALF],
    -27: [step("feeding on the fist"), seen("calm"), HALF],
    -26: [step("jumping to the fist"), answer(2), HALF],
    -25: [answer(3), HALF],
    -24: [answer(3), seen("bathing"), HALF],
    -23: [answer(3), HALF],
    -22: [step("creance", "started"), flights(3, 1.0, "creance", "fist"), answer(3), HALF],
    -21: [flights(4, 3.0, "creance", "fist"), answer(3), HALF],
    -20: [flights(5, 6.0, "creance", "fist"), answer(4), HALF],
    -19: [flights(5, 10.0, "creance", "fist"), answer(4), HALF, food("beef", None, None, 3.0)],
    -18: [flights(5, 15.0, "creance", "fist"), answer(4), seen("screaming", "slight"), HALF, food("beef", None, None, 3.0)],
    -17: [step("lure"), flights(4, 10.0, "creance", "lure"), answer(4), HALF, food("beef", None, None, 3.0)],
    -16: [flights(5, 20.0, "creance", "lure"), answer(5), seen("keen"), HALF, food("beef", None, None, 3.0)],
    -15: [flights(5, 25.0, "creance", "lure"), answer(5), seen("keen"), HALF, food("beef", None, None, 3.0)],
    -14: [flights(4, 25.0, "creance", "lure"), answer(5), kit("transmitter", "fitted"), HALF, food("beef", None, None, 3.0)],
    -13: [step("free flight"), flights(4, 15.0, "free", "lure"), answer(5), food("mouse", 0.5), food("beef", None, None, 3.0)],
    -12: [food("mouse", 0.5), food("beef", None, None, 3.0)],
    -11: [flights(6, 30.0, "free", "lure"), answer(4), HALF, food("beef", None, None, 3.0)],
    -10: [flights(6, 40.0, "free", "lure"), answer(4), food("mouse", 0.5), food("beef", None, None, 3.0)],
    -9: [flights(8, 50.0, "free", "lure"), answer(5), HALF, food("beef", None, None, 3.0)],
    -8: [flights(8, 60.0, "free", "lure"), answer(5), food("mouse", 0.5), food("beef", None, None, 3.0)],
    -7: [flights(7, 60.0, "free", "lure"), answer(4), HALF, food("beef", None, None, 3.0)],
    -6: [HALF, food("beef", None, None, 3.0)],
    -5: [flights(9, 70.0, "free", "lure"), answer(5), seen("carrying", "slight"), food("mouse", 0.5), food("beef", None, None, 4.0)],
    -4: [flights(9, 80.0, "free", "lure"), answer(5), HALF, food("beef", None, None, 4.0)],
    -3: [flights(8, 80.0, "free", "lure"), answer(4), HALF, food("beef", None, None, 3.0)],
    -2: [sign("mutes", "watery"), seen("sneezing", "slight"), food("mouse", 0.5), food("beef", None, None, 3.0)],
    -1: [sign("mutes", "normal"), flights(6, 60.0, "free", "lure"), answer(4), HALF, food("beef", None, None, 3.0)],
}
FREE = lambda n, far, grade: [flights(n, far, "free", "fist"), answer(grade)]
MARLOW = {
    -28: [quarry("rabbit", 2, "chased"), quarry("rabbit", 1, "taken"), seen("mantling"), food("rabbit", 1.0, "leg"), chicks(0.5)],
    -27: [quarry("squirrel", 1, "missed"), answer(4), chicks(2.5)],
    -26: [chicks(2.5)],
    -25: FREE(8, 80.0, 4) + [chicks(2.5)],
    -24: FREE(9, 80.0, 4) + [chicks(2.5)],
    -23: [chicks(2)],
    -22: FREE(10, 100.0, 5) + [chicks(2.5)],
    -21: [quarry("rabbit", 3, "chased"), answer(5), chicks(2.5)],
    -20: [quarry("pheasant", 1, "taken"), seen("mantling", "slight"), food("pheasant", 1.0, "breast"), chicks(1.5)],
    -19: [chicks(2.5)],
    -18: FREE(9, 90.0, 4) + [chicks(2)],
    -17: [chicks(2.5)],
    -16: FREE(10, 100.0, 4) + [chicks(2.5)],
    -15: FREE(10, 100.0, 5) + [chicks(2.5)],
    -14: [quarry("rabbit", 1, "missed"), answer(5), chicks(2.5)],
    -13: [quarry("rabbit", 1, "taken"), seen("footing"), food("rabbit", 1.0, "leg"), chicks(1.5)],
    -12: [chicks(2)],
    -11: [kit("jesses", "changed"), kit("bewit", "changed"), chicks(2.5)],
    -10: FREE(9, 100.0, 4) + [chicks(2.5)],
    -9: FREE(10, 110.0, 5) + [chicks(2)],
    -8: [chicks(2.5)],
    -7: [quarry("hare", 1, "chased"), quarry("rabbit", 1, "missed"), answer(4), chicks(2.5)],
    -6: [quarry("rabbit", 1, "taken"), food("rabbit", 1.0, "leg"), chicks(1.5)],
    -5: [chicks(2.5)],
    -4: FREE(10, 110.0, 4) + [chicks(2.5)],
    -3: [chicks(2)],
    -2: FREE(11, 120.0, 5) + [chicks(2.5)],
    -1: [quarry("rabbit", 2, "chased"), quarry("pheasant", 1, "missed"), quarry("rabbit", 1, "taken"), seen("mantling", "slight"),
         food("rabbit", 1.0, "heart"), food("rabbit", 1.0, "leg"), chicks(1)],
}
DAYS = {"Sedge": SEDGE, "Teal": TEAL, "Marlow": MARLOW}
START = {"Sedge": 1009.0, "Teal": 115.4, "Marlow": 979.0}
SKIES = [(4, "light", "cloud"), (6, "calm", "clear"), (5, "moderate", "rain"), (2, "light", "frost"), (7, "light", "cloud"),
         (8, "moderate", "cloud"), (3, "calm", "fog"), (9, "light", "clear"), (6, "strong", "rain"), (5, "light", "clear")]


def eaten_grams(v):
    """Returns the mass of a food entry that went into the bird, grams."""
    if v["outcome"] != "eaten":
        return 0.0
    if v["grams"]:
        return v["grams"]
    unit = ENERGY[v["item"]][1]
    if v["part"]:
        unit = 70.0 if (v["item"], v["part"]) == ("rabbit", "leg") else PARTS[v["part"]]
    return v["count"] * unit


def weights(bird):
    """Returns {day: grams on the scale} for days -28 to 0.

    Energy balance: maintenance 110 kcal x kg^0.679 a day (Kirkwood 1981, quoted from memory), a tenth more on a flying
    day, tissue 4.8 kcal a gram (20 kJ, the middle of the published range for fat and lean together); on the scale also
    what is left of the meal, and a spread of 0.3 % for water, mutes and the hour.
    """
    rng = random.Random("varvel " + bird["name"])
    kilos, out = START[bird["name"]] / 1000, {}
    meal = usual = 0.09 * kilos * 1000
    for day in range(-28, 1):
        shown = kilos * 1000 + 0.06 * (meal - usual) + rng.uniform(-1, 1) * 0.003 * kilos * 1000
        if bird["name"] == "Teal":
            out[day] = round(shown, 1)
        elif bird["units"] == "avoirdupois":
            quarters = round(shown / OZ * 4)
            out[day] = lb_oz(quarters // 64, quarters % 64 / 4)
        else:
            out[day] = float(round(shown))
        happened = DAYS[bird["name"]].get(day, [])
        foods = [v for kind, v in happened if kind == "food"]
        meal = sum(eaten_grams(v) for v in foods)
        gained = sum(eaten_grams(v) * ENERGY[v["item"]][0] for v in foods)
        flew = any(kind in ("flights", "quarry") for kind, _ in happened)
        spent = 110 * (kilos - bird["furniture_g"] / 1000) ** 0.679 * (1.1 if flew else 1.0)
        kilos += (gained - spent) / 4.8 / 1000
    return out
