"""Faces of displays, drawn from nothing: segments, dot matrices, unit marks, icons.

Every shape here is of our own design. `draw` returns a `Face`: what the glass reflects, what it emits,
and where each row of digits lies, in pixels of the face. Drawing is by OpenCV, lettering by the fonts
that matplotlib ships (DejaVu, STIX). Absent here: the world around the glass, see `scene.py`.
"""

import os
from dataclasses import dataclass, field
from functools import lru_cache

import cv2
import matplotlib
import numpy as np
from PIL import Image, ImageDraw, ImageFont

FONTS = os.path.join(matplotlib.get_data_path(), "fonts", "ttf")
SANS = ["DejaVuSans.ttf", "DejaVuSans-Bold.ttf", "DejaVuSans-Oblique.ttf", "DejaVuSans-BoldOblique.ttf"]
ANY = SANS + ["DejaVuSansMono.ttf", "DejaVuSansMono-Bold.ttf", "DejaVuSerif.ttf", "DejaVuSerif-Bold.ttf",
              "STIXGeneral.ttf", "STIXGeneralBol.ttf", "cmss10.ttf", "cmtt10.ttf"]

# Which of the seven segments each character lights: a top, then clockwise, g the middle.
SEGMENTS = {
    "0": "abcdef", "1": "bc", "2": "abged", "3": "abgcd", "4": "fgbc", "5": "afgcd", "6": "afgedc",
    "7": "abc", "8": "abcdefg", "9": "abcdfg", "-": "g", " ": "",
    "E": "afged", "r": "eg", "L": "fed", "o": "cdeg", "H": "fbgec", "I": "ef", "C": "afed", "A": "abcefg",
    "F": "afge", "t": "fged", "P": "abfge", "U": "bcdef", "d": "bcdeg", "n": "ceg", "b": "fgcde",
}
# Five dots wide, seven high, a row each, the leftmost dot the highest bit.
DOTS = {
    "0": (14, 17, 19, 21, 25, 17, 14), "1": (4, 12, 4, 4, 4, 4, 14), "2": (14, 17, 1, 2, 4, 8, 31),
    "3": (31, 2, 4, 2, 1, 17, 14), "4": (2, 6, 10, 18, 31, 2, 2), "5": (31, 16, 30, 1, 1, 17, 14),
    "6": (6, 8, 16, 30, 17, 17, 14), "7": (31, 1, 2, 4, 8, 8, 8), "8": (14, 17, 17, 14, 17, 17, 14),
    "9": (14, 17, 17, 15, 1, 2, 12), "-": (0, 0, 0, 31, 0, 0, 0), " ": (0,) * 7,
}
# Other ways in which makes cut the same characters.
OTHER_DOTS = {
    "0": [(14, 17, 17, 17, 17, 17, 14), (14, 17, 17, 21, 17, 17, 14), (6, 9, 9, 9, 9, 9, 6), (31, 17, 17, 17, 17, 17, 31)],
    "1": [(4, 12, 4, 4, 4, 4, 4), (4, 12, 20, 4, 4, 4, 31), (2, 6, 2, 2, 2, 2, 2), (1, 1, 1, 1, 1, 1, 1)],
    "2": [(14, 17, 1, 14, 16, 16, 31), (14, 17, 1, 6, 8, 16, 31), (31, 1, 1, 31, 16, 16, 31)],
    "3": [(14, 17, 1, 6, 1, 17, 14), (31, 1, 1, 31, 1, 1, 31), (30, 1, 1, 14, 1, 1, 30)],
    "4": [(17, 17, 17, 31, 1, 1, 1), (2, 6, 10, 18, 31, 2, 2), (16, 18, 18, 31, 2, 2, 2)],
    "5": [(31, 16, 16, 30, 1, 1, 30), (31, 16, 16, 31, 1, 1, 31), (31, 16, 30, 17, 1, 17, 14)],
    "6": [(14, 17, 16, 30, 17, 17, 14), (31, 16, 16, 31, 17, 17, 31), (2, 4, 8, 30, 17, 17, 14)],
    "7": [(31, 1, 1, 2, 4, 4, 4), (31, 1, 1, 1, 1, 1, 1), (31, 17, 1, 2, 4, 4, 4)],
    "8": [(31, 17, 17, 31, 17, 17, 31)],
    "9": [(14, 17, 17, 15, 1, 17, 14), (31, 17, 17, 31, 1, 1, 31), (14, 17, 17, 15, 1, 1, 14)],
    "-": [(0, 0, 0, 14, 0, 0, 0)],
}
MASS_UNITS = ["g", "kg", "lb", "oz", "lb oz"]
OTHER_UNITS = ["%", "C", "F", "ml", "V", "A", "L", "pcs", "ct", "N"]
# Marks of quantities and of masses that are not told, which look much like those that are.
STRANGE_UNITS = ["ozt", "dwt", "gn", "tl", "fl oz", "mg", "t", "kN", "kPa", "lb ft", "mm", "mA", "kV", "Hz", "bpm", "min", "sec", "kcal", "kJ",
                 "W", "kW", "rpm", "cm", "s", "h", "k", "b", "z", "8", "bar", "psi", "Ohm", "dB", "lx", "pH", "BMI", "tare"]
# What the unit network tells apart; degrees and per cent by themselves, all else that is no mass together.
UNIT_CLASSES = ["none", "g", "kg", "lb", "oz", "lb oz", "degree", "%", "other"]
ICONS = ["TARE", "ZERO", "NET", "HOLD", "AUTO", "MAX", "MIN", "AM", "PM", "IN", "OUT", "SET", "AC", "DC", "T", "Z", "M+"]


def unit_class(unit):
    """Returns a unit's class, a place in `UNIT_CLASSES`."""
    unit = "degree" if unit in ("C", "F") else unit
    return UNIT_CLASSES.index(unit if unit in UNIT_CLASSES else "other")


@dataclass
class Row:
    """One row of digits: its text, whether it is the reading itself, and its ink's corners in the face.

    A `printed` one is a word on the body, kept so that the reader learns to find nothing there. `marks` are the unit
    marks lit for it, each with its class and corners; `decoys` are corners of what is near and no lit mark."""
    text: str
    primary: bool
    quad: np.ndarray
    unit: str = "none"
    printed: bool = False
    marks: list = field(default_factory=list)
    decoys: list = field(default_factory=list)


@dataclass
class Face:
    """A display face: reflectance and emission (H, W, 3, blue first, 0 to 1) and its rows."""
    refl: np.ndarray
    emit: np.ndarray
    rows: list = field(default_factory=list)
    lit: bool = False


@lru_cache(maxsize=512)
def font(name, size):
    return ImageFont.truetype(os.path.join(FONTS, name), size)


def lettering(text, height, name="DejaVuSans-Bold.ttf"):
    """Returns the mask (0 to 255) of a word whose capitals are `height` pixels high."""
    f = font(name, max(6, int(round(height * 1.37))))
    box = f.getbbox(text)
    im = Image.new("L", (max(1, box[2] - box[0] + 2), max(1, box[3] - box[1] + 2)))
    ImageDraw.Draw(im).text((1 - box[0], 1 - box[1]), text, font=f, fill=255)
    return np.asarray(im)


def stamp(dst, mask, x, y, gain=1.0):
    """Lays a mask over another, taking the greater; what falls outside is lost."""
    x, y = int(round(x)), int(round(y))
    h, w = mask.shape
    x0, y0, x1, y1 = max(0, x), max(0, y), min(dst.shape[1], x + w), min(dst.shape[0], y + h)
    if x1 > x0 and y1 > y0:
        part = mask[y0 - y:y1 - y, x0 - x:x1 - x]
        if gain != 1.0:
            part = (part * gain).astype(np.uint8)
        np.maximum(dst[y0:y1, x0:x1], part, out=dst[y0:y1, x0:x1])


def poly(dst, points, value=255):
    cv2.fillPoly(dst, [np.round(np.asarray(points) * 16).astype(np.int32)], int(value), cv2.LINE_AA, 4)


def pick(rng, weighted):
    """Picks a key of a dict by its weight."""
    keys = list(weighted)
    p = np.array([weighted[k] for k in keys], float)
    return keys[rng.choice(len(keys), p=p / p.sum())]


def hsv(h, s, v):
    """Returns blue, green, red, 0 to 1."""
    c = cv2.cvtColor(np.array([[[h % 360.0, s, v]]], np.float32), cv2.COLOR_HSV2BGR)[0, 0]
    return c.astype(np.float32)


# ---------------------------------------------------------------- styles

def style(rng, tech=None):
    """Draws the make of a display: its technology, colours and the cut of its characters."""
    s = {}
    s["tech"] = tech or pick(rng, {"lcd": 40, "backlit": 18, "negative": 10, "led": 22, "dots": 9, "graphic": 6})
    t = s["tech"]
    s["aspect"] = rng.uniform(0.44, 0.68)
    s["stroke"] = rng.uniform(0.075, 0.19)
    s["gap"] = rng.choice([0.0, rng.uniform(0.005, 0.05)], p=[0.25, 0.75])
    s["ends"] = pick(rng, {"point": 40, "mitre": 35, "flat": 12, "round": 13})
    s["slant"] = rng.choice([0.0, rng.uniform(0.03, 0.22)], p=[0.4, 0.6])
    s["pitch"] = s["aspect"] + s["stroke"] * rng.uniform(0.5, 1.4) + rng.uniform(0.03, 0.16)
    spread = rng.random()
    if spread < 0.24:
        # Digits far apart, as on pumps and hanging scales.
        s["pitch"] += rng.uniform(0.06, 0.5)
    elif spread < 0.5:
        # Digits that all but touch, the point squeezed between their feet.
        s["pitch"] = s["aspect"] + rng.uniform(0.015, 0.09)
        if rng.random() < 0.6:
            s["slant"] = rng.uniform(0.05, 0.2)
    s["tail6"] = rng.random() < 0.85
    s["tail9"] = rng.random() < 0.85
    s["hook7"] = rng.random() < 0.25
    s["one_left"] = rng.random() < 0.02
    s["point"] = pick(rng, {"square": 45, "round": 40, "comma": 6, "slant": 9})
    s["point_size"] = max(0.05, s["stroke"] * rng.choice([rng.uniform(0.85, 1.5), rng.uniform(0.42, 0.85)], p=[0.6, 0.4]))
    s["point_gain"] = rng.choice([1.0, rng.uniform(0.5, 1.0)], p=[0.8, 0.2])
    s["point_at"] = rng.choice([0.5, rng.uniform(0.3, 0.65)], p=[0.6, 0.4])
    s["point_cell"] = rng.random() < 0.35
    s["point_drop"] = rng.choice([0.0, rng.uniform(0, 0.07)], p=[0.6, 0.4])
    s["ghost"] = rng.choice([0.0, rng.uniform(0.01, 0.09), rng.uniform(0.09, 0.24)], p=[0.45, 0.43, 0.12])
    s["shadow"] = rng.choice([0.0, rng.uniform(0.05, 0.35)], p=[0.5, 0.5])
    s["font"] = str(rng.choice(SANS + ["DejaVuSansMono-Bold.ttf"]))
    s["dot_round"] = rng.random() < 0.5
    s["dots"] = dict(DOTS)
    for k, ways in OTHER_DOTS.items():
        if rng.random() < 0.6:
            s["dots"][k] = ways[rng.integers(len(ways))]
    # Large lamps make a segment of single beads.
    s["beads"] = int(rng.integers(2, 6)) if t == "led" and rng.random() < 0.1 else 0
    s["dot_fill"] = rng.uniform(0.62, 0.98)
    if t in ("lcd", "backlit"):
        if t == "lcd":
            g = rng.choice([rng.uniform(0.35, 0.85), rng.uniform(0.12, 0.35)], p=[0.72, 0.28])
            s["ground"] = np.clip(hsv(rng.uniform(50, 170), rng.uniform(0.02, 0.22), g), 0, 1)
            s["glow"] = 0.0
        else:
            hue = pick(rng, {205: 35, 230: 15, 35: 18, 100: 14, 180: 8, 20: 8, 0: 2})
            s["ground"] = hsv(hue + rng.normal(0, 9), rng.uniform(0.1, 0.97), rng.uniform(0.6, 1.0))
            s["glow"] = rng.uniform(0.3, 1.0)
            if rng.random() < 0.25:
                s["ground"] = hsv(rng.uniform(0, 360), rng.uniform(0, 0.1), rng.uniform(0.75, 1))
        s["ink"] = s["ground"] * rng.uniform(0.02, 0.35) + np.float32(rng.uniform(0, 0.06))
        if rng.random() < 0.25:
            s["ink"] = np.clip(hsv(rng.uniform(215, 260), rng.uniform(0.3, 0.9), rng.uniform(0.1, 0.5)), 0, 1)
        s["alpha"] = rng.choice([rng.uniform(0.75, 1.0), rng.uniform(0.35, 0.75), rng.uniform(0.2, 0.35)], p=[0.64, 0.29, 0.07])
    elif t == "negative":
        hue = rng.choice([rng.uniform(190, 240), rng.uniform(0, 360)])
        s["ground"] = hsv(hue, rng.uniform(0, 1.0), rng.uniform(0.02, 0.35))
        s["ink"] = hsv(hue + rng.normal(0, 20), rng.uniform(0, 0.6), rng.uniform(0.6, 1.0))
        s["glow"] = rng.uniform(0.4, 1.0)
        s["alpha"] = rng.uniform(0.6, 1.0)
        s["shadow"] = 0.0
    else:
        hue = pick(rng, {0: 50, 12: 5, 120: 18, 100: 5, 215: 9, 185: 7, 40: 4, 60: 2})
        s["ground"] = hsv(hue, rng.uniform(0, 0.7), rng.uniform(0.01, 0.13))
        s["ink"] = hsv(hue + rng.normal(0, 5), rng.choice([rng.uniform(0.75, 1.0), rng.uniform(0, 0.4)], p=[0.85, 0.15]),
                       rng.uniform(0.75, 1.0))
        s["glow"] = 1.0
        s["alpha"] = rng.uniform(0.75, 1.3)
        s["bloom"] = rng.choice([0.0, rng.uniform(0.2, 1.6)], p=[0.3, 0.7])
        s["hot"] = rng.choice([0.0, rng.uniform(0.3, 1.0)], p=[0.4, 0.6])
        s["shadow"] = 0.0
        if t in ("dots", "graphic") and rng.random() < 0.6:
            lcd = style(rng, "lcd" if rng.random() < 0.5 else "backlit")
            for k in ("ground", "ink", "glow", "alpha", "shadow"):
                s[k] = lcd[k]
            s["lcd_like"] = True
    s["lit"] = t == "led" or (t in ("dots", "graphic") and not s.get("lcd_like"))
    return s


# ---------------------------------------------------------------- characters

def segment(mask, s, x, y, h, which, value=255):
    """Draws one segment of the cell whose upper left is (x, y) and height h."""
    w, t, gap = s["aspect"] * h, s["stroke"] * h, s["gap"] * h
    l, r, u, m, d = t / 2, w - t / 2, t / 2, h / 2, h - t / 2
    p, q = {"a": ((l, u), (r, u)), "b": ((r, u), (r, m)), "c": ((r, m), (r, d)), "d": ((l, d), (r, d)),
            "e": ((l, m), (l, d)), "f": ((l, u), (l, m)), "g": ((l, m), (r, m))}[which]
    p, q = np.array(p, float), np.array(q, float)
    if s["beads"]:
        for k in np.linspace(0, 1, s["beads"] + 1):
            c = p + (q - p) * k
            at = (x + c[0] + s["slant"] * (h - c[1]), y + c[1])
            cv2.circle(mask, (int(at[0] * 16), int(at[1] * 16)), int(t * 0.42 * 16), int(value), -1, cv2.LINE_AA, 4)
        return
    axis = (q - p) / np.linalg.norm(q - p)
    side = np.array([-axis[1], axis[0]])
    ends = s["ends"]
    a, b = p + axis * gap, q - axis * gap
    hw = t / 2
    if ends == "flat":
        a2, b2 = a + axis * hw * 0.9, b - axis * hw * 0.9
        if which in "ad":
            a2, b2 = a - axis * hw * 0.6, b + axis * hw * 0.6
        pts = [a2 + side * hw, b2 + side * hw, b2 - side * hw, a2 - side * hw]
    elif ends == "mitre" and which != "g":
        # The outer edge runs to the corner, the inner edge is shorter.
        out = {"a": -1, "b": -1, "c": -1, "d": 1, "e": 1, "f": 1}[which]
        far, near = hw, -hw
        lo = 0.0 if which in "ce" else far
        hi = 0.0 if which in "bf" else far
        pts = [a - axis * lo + side * out * hw, b + axis * hi + side * out * hw,
               b + (axis * near if hi else -axis * hw * 0.5) - side * out * hw,
               a - (axis * near if lo else -axis * hw * 0.5) - side * out * hw]
    else:
        pts = [a, a + axis * hw + side * hw, b - axis * hw + side * hw, b, b - axis * hw - side * hw,
               a + axis * hw - side * hw]
    if ends == "round":
        a2, b2 = a + axis * hw * 0.8, b - axis * hw * 0.8
        for c in (a2, b2):
            k = np.array([x + c[0] + s["slant"] * (h - c[1]), y + c[1]])
            cv2.circle(mask, tuple(np.round(k * 16).astype(int)), int(hw * 0.95 * 16), int(value), -1, cv2.LINE_AA, 4)
        pts = [a2 + side * hw * 0.95, b2 + side * hw * 0.95, b2 - side * hw * 0.95, a2 - side * hw * 0.95]
    poly(mask, [(x + c[0] + s["slant"] * (h - c[1]), y + c[1]) for c in pts], value)


def lit_segments(s, ch):
    seg = SEGMENTS.get(ch, "")
    if ch == "6" and not s["tail6"]:
        seg = seg.replace("a", "")
    if ch == "9" and not s["tail9"]:
        seg = seg.replace("d", "")
    if ch == "7" and s["hook7"]:
        seg += "f"
    if ch == "1" and s["one_left"]:
        seg = "ef"
    return seg


def dot_char(mask, s, x, y, h, ch, value=255):
    """Draws a character of dots; a dot is a seventh of the height."""
    d = h / 7.0
    for r, bits in enumerate(s["dots"].get(ch, DOTS[" "])):
        for c in range(5):
            if bits >> (4 - c) & 1:
                dot(mask, s, x + c * d, y + r * d, d, value)


def dot(mask, s, x, y, d, value=255):
    k = d * s["dot_fill"]
    if s["dot_round"]:
        cv2.circle(mask, (int((x + d / 2) * 16), int((y + d / 2) * 16)), int(k / 2 * 16), int(value), -1, cv2.LINE_AA, 4)
    else:
        poly(mask, [(x, y), (x + k, y), (x + k, y + k), (x, y + k)], value)


def point(mask, s, cx, base, h, kind=None, value=255):
    """Draws the decimal point with its middle at cx and its foot on the base line."""
    k = s["point_size"] * h
    base = base + s["point_drop"] * h
    kind = kind or s["point"]
    if kind == "round":
        cv2.circle(mask, (int(cx * 16), int((base - k / 2) * 16)), int(k * 0.55 * 16), int(value), -1, cv2.LINE_AA, 4)
    elif kind == "comma":
        poly(mask, [(cx - k / 2, base - k), (cx + k / 2, base - k), (cx + k / 2, base), (cx - k * 0.1, base + k * 0.9),
                    (cx - k * 0.45, base + k * 0.8), (cx, base), (cx - k / 2, base)], value)
    else:
        sh = k * s["slant"] if kind == "slant" else 0
        poly(mask, [(cx - k / 2 + sh, base - k), (cx + k / 2 + sh, base - k), (cx + k / 2, base), (cx - k / 2, base)], value)


def row_masks(rng, s, text, h, blanks=0):
    """Draws a row: returns (lit mask, ghost mask, left, right) with the ink between left and right.

    `blanks` dark cells stand before the text, as on a display wider than its number."""
    t = s["tech"]
    pad = int(h * 0.4) + 2
    if t == "graphic":
        f = font(s["font"], max(8, int(h * 1.37)))
        box = f.getbbox(text.replace(":", " : ") if rng.random() < 0.3 else text)
        probe = f.getbbox("0")
        im = Image.new("L", (box[2] - box[0] + 2 * pad, int(h) + 2 * pad))
        ImageDraw.Draw(im).text((pad - box[0], pad - probe[1]), text, font=f, fill=255)
        m = np.array(im)
        k = rng.choice([0, 1])
        if k and h > 30:
            n = h / rng.uniform(12, 22)
            small = cv2.resize(m, (int(m.shape[1] / n), int(m.shape[0] / n)), interpolation=cv2.INTER_AREA)
            m = cv2.resize(((small > 110) * 255).astype(np.uint8), (m.shape[1], m.shape[0]), interpolation=cv2.INTER_NEAREST)
        return m, np.zeros_like(m), pad, m.shape[1] - pad
    dots = t == "dots"
    w = 5 * h / 7 if dots else s["aspect"] * h
    pitch = 6 * h / 7 if dots else s["pitch"] * h
    lean = 0 if dots else s["slant"] * h
    point_w = (h / 7 * 2) if dots else (s["point_size"] * h * 1.9 if s["point_cell"] else 0)
    n = len(text) + blanks
    width = int(pitch * n + point_w * sum(c in ".:" for c in text) + lean + 2 * pad + h)
    on = np.zeros((int(h) + 2 * pad, width), np.uint8)
    ghost = np.zeros_like(on)
    x, y = float(pad), float(pad)
    left = right = None
    ghosts = s["ghost"] > 0

    def cell(x):
        if ghosts and not dots:
            for seg in "abcdefg":
                segment(ghost, s, x, y, h, seg)
            if rng.random() < 0.7:
                point(ghost, s, x + w + (pitch - w) / 2, y + h, h)
        elif ghosts:
            for r in range(7):
                for c in range(5):
                    dot(ghost, s, x + c * h / 7, y + r * h / 7, h / 7)

    for _ in range(blanks):
        cell(x)
        x += pitch
    wide_colon = rng.random() < 0.5
    for i, ch in enumerate(text):
        if ch == ".":
            if dots:
                cx = x + h / 14
                dot(on, s, x, y + 6 * h / 7, h / 7)
                x += 2 * h / 7
            else:
                cx = x - (pitch - w) * (1 - s["point_at"]) + point_w / 2
                point(on, s, cx, y + h, h, value=255 * s["point_gain"])
                x += point_w
            right = max(right or 0, cx + s["point_size"] * h / 2)
            left = cx if left is None else left
        elif ch == ":":
            k = s["point_size"] * h
            gap = max(k * 1.8, pitch * 0.35) if wide_colon else k * 1.5
            cx = x - (pitch - w) / 2 + gap / 2
            for f in (0.32, 0.68):
                c = (int((cx + lean * (1 - f)) * 16), int((y + f * h) * 16))
                if s["point"] in ("square", "slant"):
                    poly(on, [(c[0] / 16 - k / 2, c[1] / 16 - k / 2), (c[0] / 16 + k / 2, c[1] / 16 - k / 2),
                              (c[0] / 16 + k / 2, c[1] / 16 + k / 2), (c[0] / 16 - k / 2, c[1] / 16 + k / 2)])
                else:
                    cv2.circle(on, c, int(k * 0.55 * 16), 255, -1, cv2.LINE_AA, 4)
            x += gap
        else:
            if dots:
                dot_char(on, s, x, y, h, ch)
            else:
                cell(x)
                for seg in lit_segments(s, ch):
                    segment(on, s, x, y, h, seg)
                if ch == "-" and i == 0 and rng.random() < 0.5:
                    # Some displays keep a place of its own for the sign, or a pane of its own.
                    left = x
                    room = h * rng.uniform(0.1, 1.4)
                    if room > 0.25 * h and rng.random() < 0.5:
                        t = max(1.0, h * rng.uniform(0.02, 0.09))
                        at = x + w + room * rng.uniform(0.3, 0.8)
                        poly(on, [(at, 0), (at + t, 0), (at + t, on.shape[0]), (at, on.shape[0])])
                    x += room
            narrow = ch == "1" and not dots
            cl = x + (w - s["stroke"] * h if narrow and not s["one_left"] else 0)
            cr = x + w + lean
            if ch != " ":
                left = cl if left is None else left
                right = max(right or 0, cr)
            x += pitch
    if left is None:
        left, right = pad, x
    return on, ghost, left, right


# The strokes of unit letters drawn by hand: lines and arcs (middle, radii, from, to in degrees) in a box
# one high; the line is at 1, capitals reach 0, small letters 0.32.
STROKES = {
    "l": (0.1, [[(0.05, 0), (0.05, 1)]], []),
    "k": (0.5, [[(0.05, 0), (0.05, 1)], [(0.45, 0.36), (0.06, 0.7)], [(0.2, 0.58), (0.47, 1)]], []),
    "b": (0.55, [[(0.05, 0), (0.05, 1)]], [((0.28, 0.67), (0.23, 0.33), 0, 360)]),
    "o": (0.55, [], [((0.27, 0.67), (0.24, 0.33), 0, 360)]),
    "z": (0.5, [[(0.04, 0.36), (0.44, 0.36), (0.04, 1), (0.46, 1)]], []),
    "g": (0.55, [[(0.48, 0.34), (0.48, 1.1)]], [((0.26, 0.66), (0.22, 0.32), 0, 360), ((0.27, 1.1), (0.21, 0.24), 0, 150)]),
    "G": (0.7, [[(0.62, 0.55), (0.62, 0.85)], [(0.4, 0.55), (0.62, 0.55)]], [((0.34, 0.5), (0.3, 0.5), 50, 320)]),
    "L": (0.55, [[(0.05, 0), (0.05, 1), (0.5, 1)]], []),
    "B": (0.6, [[(0.3, 0), (0.05, 0), (0.05, 1), (0.3, 1)], [(0.05, 0.48), (0.3, 0.48)]],
          [((0.3, 0.24), (0.22, 0.24), -90, 90), ((0.3, 0.74), (0.24, 0.26), -90, 90)]),
}


def stroked(rng, text, height):
    """Returns the mask of a unit written in plain strokes, as liquid crystal is often cut."""
    k, t = float(height), max(1, int(round(height * rng.uniform(0.07, 0.2))))
    wide = rng.uniform(0.85, 1.35)
    gap = k * rng.uniform(0.08, 0.25) + t
    m = np.zeros((int(k * 1.5) + 2 * t + 2, int(sum(STROKES[c][0] * k * wide + gap for c in text)) + 2 * t + 4), np.uint8)
    x = t + 1.0
    at = lambda p: (int((x + p[0] * k * wide) * 16), int((t + p[1] * k) * 16))
    for c in text:
        w, paths, arcs = STROKES[c]
        for path in paths:
            cv2.polylines(m, [np.int32([at(p) for p in path])], False, 255, t, cv2.LINE_AA, 4)
        for mid, r, a, b in arcs:
            cv2.ellipse(m, at(mid), (int(r[0] * k * wide * 16), int(r[1] * k * 16)), 0, a, b, 255, t, cv2.LINE_AA, 4)
        x += w * k * wide + gap
    ys, xs = np.nonzero(m)
    return m[ys.min():ys.max() + 1, xs.min():xs.max() + 1]


def unit_word(rng, unit):
    """Returns a way in which a make writes the unit."""
    words = {"g": ["g", "g", "g", "g", "G", "gr"], "kg": ["kg", "kg", "Kg", "KG"], "lb": ["lb", "lb", "LB", "Lb", "lbs"],
             "oz": ["oz", "oz", "oz", "OZ", "Oz"],
             "lb oz": ["lb:oz", "lb oz", "lb oz", "LB:OZ", "lboz"], "%": ["%", "%RH"], "C": ["°C", "C", "℃"[:0] + "°C"], "F": ["°F", "F"]}
    return str(rng.choice(words.get(unit, [unit])))


def unit_mark(rng, s, unit, h):
    """Returns the mask of a unit mark, about `h` high, in type or in segments of its own."""
    if unit in ("C", "F") and rng.random() < 0.5:
        k = {**s, "slant": 0.0, "stroke": s["stroke"] * rng.uniform(0.9, 1.3), "aspect": rng.uniform(0.5, 0.7)}
        m = np.zeros((int(h) + 2, int(h) + 2), np.uint8)
        for seg in SEGMENTS[unit] if rng.random() < 0.6 else {"C": "deg", "F": "efg"}[unit]:
            segment(m, k, h * 0.3, 0, h, seg)
        r = max(1, h * 0.1)
        cv2.circle(m, (int(r * 1.3), int(r * 1.3)), int(r), 255, max(1, int(h / 12)), cv2.LINE_AA)
        return m
    word = unit_word(rng, unit)
    if rng.random() < 0.45 and all(c in STROKES for c in word):
        return stroked(rng, word, h)
    if word == "g" and rng.random() < 0.12:
        # A small nine does for a g on some.
        k = {**s, "slant": 0.0, "stroke": rng.uniform(0.1, 0.2), "aspect": rng.uniform(0.5, 0.8)}
        m = np.zeros((int(h) + 2, int(h) + 2), np.uint8)
        for seg in "abcdfg":
            segment(m, k, 0, 0, h, seg)
        return m
    return bent(rng, lettering(word, h, str(rng.choice(SANS + ["DejaVuSansMono.ttf", "DejaVuSansMono-Bold.ttf", "DejaVuSansDisplay.ttf", "cmss10.ttf",
                                                               "cmtt10.ttf", "DejaVuSerif.ttf", "STIXGeneralBol.ttf"]))))


def bent(rng, m):
    """Makes a word narrower or wider, leaning, bolder or lighter, or of coarse dots: makes write in many hands."""
    h, w = m.shape
    if rng.random() < 0.6:
        m = cv2.resize(m, (max(2, int(w * rng.uniform(0.65, 1.35))), h), interpolation=cv2.INTER_AREA)
    if h > 8 and rng.random() < 0.2:
        # A matrix of dots, seven to twelve high.
        n = h / rng.uniform(7, 12)
        small = cv2.resize(m, (max(2, int(m.shape[1] / n)), max(4, int(h / n))), interpolation=cv2.INTER_AREA)
        m = cv2.resize(((small > 100) * 255).astype(np.uint8), (m.shape[1], h), interpolation=cv2.INTER_NEAREST)
    elif h > 14 and rng.random() < 0.35:
        k = np.ones((2, 2), np.uint8) if h < 40 else np.ones((3, 3), np.uint8)
        m = cv2.dilate(np.pad(m, 2), k) if rng.random() < 0.6 else cv2.erode(m, k)
    if rng.random() < 0.3:
        lean = rng.uniform(0.05, 0.25) * m.shape[0]
        a = np.float32([[1, -lean / m.shape[0], lean], [0, 1, 0]])
        m = cv2.warpAffine(m, a, (int(m.shape[1] + lean) + 1, m.shape[0]))
    return m


# ---------------------------------------------------------------- the face

def draw(rng, lines, h, s=None, marks=True, tight=False):
    """Draws a face whose largest digits are about `h` pixels high.

    `lines` is a list of lines, each a list of items {text, primary, unit, scale}; two items on a line stand
    side by side. Returns a Face."""
    first = lines[0][0]
    s = s or style(rng, first.get("tech"))
    if first.get("wide"):
        # A pump's counter: digits far apart on dark glass.
        s["pitch"] = s["aspect"] + rng.uniform(0.2, 0.62)
        if s["tech"] == "lcd":
            s["ground"] = np.clip(hsv(rng.uniform(50, 170), rng.uniform(0.02, 0.2), rng.uniform(0.1, 0.5)), 0, 1)
            s["ink"] = s["ground"] * rng.uniform(0.02, 0.5)
    gap_y = h * rng.uniform(0.08, 0.6)
    laid, y, width = [], 0.0, 0.0
    for line in lines:
        x, line_h, placed = 0.0, 0.0, []
        for item in line:
            hh = h * item.get("scale", 1.0)
            unit = item.get("unit", "none")
            # Pounds and ounces stand apart by a colon or by a gap with the pound mark in it.
            gapped = unit == "lb oz" and not item.get("one_mark") and rng.random() < 0.6
            shown = item["text"].replace(":", " ") if gapped else item["text"]
            on, ghost, left, right = row_masks(rng, s, shown, hh, item.get("blanks", 0))
            item = {**item, "gapped": gapped, "cut": (item["text"].index(":") if ":" in item["text"] else 1) / len(item["text"])}
            mark = None
            if marks and (unit not in ("none", "lb oz") or item.get("one_mark")):
                size = rng.uniform(0.3, 0.75) if unit in ("C", "F", "%") else rng.choice([rng.uniform(0.13, 0.24), rng.uniform(0.2, 0.38), rng.uniform(0.38, 0.62)], p=[0.35, 0.35, 0.3])
                mark = unit_mark(rng, s, unit, max(5, hh * size))
            placed.append((item, hh, on, ghost, left, right, x, mark))
            x += right + (mark.shape[1] + 0.15 * h if mark is not None else 0)
            x += h * (rng.uniform(0.02, 0.3) if item.get("near") else rng.uniform(0.25, 0.9))
            line_h = max(line_h, hh)
        laid.append((y, line_h, x, placed))
        width = max(width, x)
        y += line_h + gap_y
    pad = [h * (rng.uniform(0.04, 0.3) if tight else rng.choice([rng.uniform(0.05, 0.5), rng.uniform(0.5, 1.4)], p=[0.65, 0.35]))
           for _ in range(4)]
    panel = s["lit"] and not tight and rng.random() < 0.3
    if panel:
        # A large dark panel with the digits in a part of it.
        pad = [p + h * rng.uniform(0, 2.6) for p in pad]
    if not tight and any(i.get("unit", "none") in MASS_UNITS for i in lines[0]) and rng.random() < 0.3:
        # Room for a mark far to the left of a short number.
        pad[3] += h * rng.uniform(0.6, 2.8)
    height = int(y - gap_y + pad[0] + pad[2])
    width = int(width + pad[1] + pad[3])
    on = np.zeros((height, width), np.uint8)
    ghost = np.zeros_like(on)
    face = Face(None, None, lit=s["lit"])
    align = rng.choice(["right", "right", "left", "centre"])
    for y0, line_h, line_w, placed in laid:
        free = width - pad[1] - pad[3] - line_w
        off = pad[3] + {"right": free, "left": 0, "centre": free / 2}[align]
        for item, hh, m, gm, left, right, x, mark in placed:
            p = int(hh * 0.4) + 2
            ox, oy = off + x - p * 0.5, pad[0] + y0 + (line_h - hh) - p
            ox, oy = round(ox), round(oy)
            gain = item.get("gain", 1.0)
            stamp(on, m, ox, oy, gain)
            stamp(ghost, gm, ox, oy)
            top, foot = oy + p, oy + p + hh
            quad = np.array([(ox + left, top), (ox + right, top), (ox + right, foot), (ox + left, foot)], np.float32)
            unit, spots, decoys = item.get("unit", "none"), [], []
            box = lambda x, y, m: np.array([(x, y), (x + m.shape[1], y), (x + m.shape[1], y + m.shape[0]), (x, y + m.shape[0])], np.float32)
            if mark is not None:
                mh, mw = mark.shape
                where = item.get("mark_at") or pick(rng, {"foot": 40, "top": 18, "mid": 8, "above": 9, "below": 7, "loose": 38})
                mx = ox + right + hh * rng.uniform(0.05, 0.3)
                my = {"foot": foot - mh, "top": top, "mid": (top + foot - mh) / 2, "loose": 0,
                      "above": top - mh - 0.08 * hh, "below": foot + 0.08 * hh}[where]
                if where in ("above", "below"):
                    mx = rng.uniform(ox + left, max(ox + left + 1, ox + right - mw))
                if where == "loose":
                    # Anywhere near that is free of digits, often far to the left above them.
                    upper = rng.random() < 0.5
                    for _ in range(16):
                        mx = rng.uniform(ox + left - 2.6 * hh, ox + left if upper else ox + right + 1.6 * hh)
                        my = rng.uniform(top - 0.9 * hh, top + 0.2 * hh if upper else foot + 0.7 * hh)
                        free = mx + mw < ox + left - 2 or mx > ox + right + 2 or my + mh < top - 2 or my > foot + 2
                        if free and 0 < mx < width - mw and 0 < my < height - mh and (on[int(my):int(my) + mh, int(mx):int(mx) + mw] == 0).all():
                            break
                    else:
                        where, mx, my = "foot", ox + right + 0.1 * hh, foot - mh
                if my < 1 or my + mh > height - 1 or mx + mw > width - 1:
                    mx = max(0, min(mx, width - mw - 1))
                    my = max(0, min(max(my, 1), height - mh - 1))
                under = on[int(my):int(my) + mh, int(mx):int(mx) + mw]
                if (under > 128).mean() > 0.02:
                    unit = "none"
                else:
                    stamp(on, mark, mx, my, gain * item.get("mark_gain", 1.0))
                    spots.append((unit, box(mx, my, mark)))
                    if rng.random() < 0.15:
                        # The marks not lit now, faint beside the lit one.
                        for other in rng.choice(MASS_UNITS[:4], 2):
                            if other != unit:
                                dim = unit_mark(rng, s, str(other), mh)
                                gx, gy = (mx, my + mh * 1.3) if rng.random() < 0.5 else (mx - dim.shape[1] * 1.5, my)
                                stamp(ghost, dim, gx, gy)
                                if s["ghost"]:
                                    decoys.append(box(gx, gy, dim))
            if item.get("label") and marks:
                word = lettering(item["label"], max(4, hh * rng.uniform(0.14, 0.3)), str(rng.choice(SANS)))
                lx = ox + left - word.shape[1] - hh * rng.uniform(0.15, 0.8) if rng.random() < 0.6 else ox + right + hh * rng.uniform(0.15, 0.6)
                ly = rng.uniform(top, foot - word.shape[0])
                if 0 < lx < width - word.shape[1]:
                    stamp(on, word, lx, ly)
            if item.get("primary", True):
                bars(rng, on, ox + left, ox + right, top, foot, hh, item["text"].startswith("-"))
            if unit == "lb oz" and marks and not item.get("one_mark"):
                cut = item.get("cut")
                k = max(5, hh * rng.uniform(0.22, 0.36))
                oz, lb = (unit_mark(rng, s, u, k) for u in ("oz", "lb"))
                ozx, ozy = ox + right + 0.06 * hh, foot - oz.shape[0]
                lbx, lby = (ox + left + (right - left) * cut + 0.04 * hh, foot - lb.shape[0]) if item["gapped"] else (ox + left, max(0, top - k * 1.3))
                for u, m, mx, my in (("oz", oz, ozx, ozy), ("lb", lb, lbx, lby)):
                    under = on[int(my):int(my) + m.shape[0], int(mx):int(mx) + m.shape[1]]
                    if mx + m.shape[1] < width and under.size and (under > 128).mean() < 0.02:
                        stamp(on, m, mx, my)
                        spots.append((u, box(mx, my, m)))
            face.rows.append(Row(item["text"], item.get("primary", True), quad, unit, marks=spots, decoys=decoys))
    if marks and not tight:
        icons(rng, on, ghost, face, h)
    paint(rng, face, s, on, ghost, h)
    if panel or rng.random() < 0.06:
        labels(rng, face, h)
    return face


def bars(rng, on, left, right, top, foot, h, signed):
    """Draws the lines that part one pane of a display from the next, higher than a digit, and now and then a plus sign."""
    t = max(1.0, h * rng.uniform(0.02, 0.12))
    reach = h * rng.uniform(0.12, 1.2)
    for side in (-1, 1):
        if rng.random() < 0.05:
            at = left - h * rng.uniform(0.15, 0.9) if side < 0 else right + h * rng.uniform(0.15, 0.9)
            poly(on, [(at, top - reach), (at + t, top - reach), (at + t, foot + reach), (at, foot + reach)])
    if not signed and rng.random() < 0.03:
        x, y, k = left - h * rng.uniform(0.4, 1.6), (top + foot) / 2, h * rng.uniform(0.12, 0.22)
        for dx, dy in ((k, t / 2), (t / 2, k)):
            poly(on, [(x - dx, y - dy), (x + dx, y - dy), (x + dx, y + dy), (x - dx, y + dy)])


def labels(rng, face, h):
    """Prints words and bars on the glass where no row stands: they are not lit and not to be read."""
    height, width = face.refl.shape[:2]
    colour = hsv(rng.choice([30, 40, 200, 0]), rng.choice([rng.uniform(0.5, 0.9), 0.05]), rng.uniform(0.4, 0.95))
    for _ in range(int(rng.integers(1, 5))):
        k = max(4, h * rng.uniform(0.2, 0.75))
        m = lettering(str(rng.choice(["AX-30", "M410", "A RMS", "VOLT", "TC 203", "kg", "WEIGHT", "~", "QUARTZ", "R.P.M", "No 7", "5012", "88", "DP-2"])), k, str(rng.choice(SANS)))
        if rng.random() < 0.25:
            m = np.full((height, max(2, int(h * rng.uniform(0.03, 0.1)))), 255, np.uint8)
            colour = colour * 0.1
        for _ in range(8):
            x, y = rng.uniform(0, max(1, width - m.shape[1])), rng.uniform(0, max(1, height - m.shape[0]))
            clear = all(x + m.shape[1] < r.quad[:, 0].min() - 0.1 * h or x > r.quad[:, 0].max() + 0.1 * h
                        or y + m.shape[0] < r.quad[:, 1].min() - 0.1 * h or y > r.quad[:, 1].max() + 0.1 * h for r in face.rows)
            near = [q for r in face.rows for _, q in r.marks]
            clear = clear and all(x + m.shape[1] < q[:, 0].min() or x > q[:, 0].max() or y + m.shape[0] < q[:, 1].min() or y > q[:, 1].max() for q in near)
            if clear and face.emit.shape == face.refl.shape:
                face.rows[0].decoys.append(np.array([(x, y), (x + m.shape[1], y), (x + m.shape[1], y + m.shape[0]), (x, y + m.shape[0])], np.float32))
                y0, x0 = int(y), int(x)
                part = face.refl[y0:y0 + m.shape[0], x0:x0 + m.shape[1]]
                a = m[:part.shape[0], :part.shape[1], None].astype(np.float32) / 255
                part[:] = part * (1 - a) + colour * a
                break


def icons(rng, on, ghost, face, h):
    """Strews small icons where no row stands: battery, words, arrows, rings."""
    height, width = on.shape
    for _ in range(int(rng.choice([0, 1, 2, 4], p=[0.4, 0.25, 0.2, 0.15]))):
        k = max(4, h * rng.uniform(0.12, 0.28))
        kind = pick(rng, {"word": 5, "battery": 2, "arrow": 2, "ring": 1.5})
        if kind == "word":
            m = lettering(str(rng.choice(ICONS)), k, str(rng.choice(SANS)))
        else:
            m = np.zeros((int(k * 1.6), int(k * 2.4)), np.uint8)
            if kind == "battery":
                cv2.rectangle(m, (1, 1), (int(k * 1.9), int(k * 1.1)), 255, max(1, int(k / 9)))
                for i in range(int(rng.integers(0, 4))):
                    cv2.rectangle(m, (int(k * (0.2 + 0.55 * i)), int(k * 0.25)), (int(k * (0.55 + 0.55 * i)), int(k * 0.85)), 255, -1)
            elif kind == "arrow":
                poly(m, [(1, 1), (k * 1.2, 1), (k * 0.6, k)])
            else:
                cv2.circle(m, (int(k), int(k * 0.75)), int(k * 0.6), 255, max(1, int(k / 7)), cv2.LINE_AA)
        for _ in range(6):
            x, y = rng.uniform(0, max(1, width - m.shape[1])), rng.uniform(0, max(1, height - m.shape[0]))
            clear = all(x + m.shape[1] < r.quad[:, 0].min() - 0.05 * h or x > r.quad[:, 0].max() + 0.05 * h
                        or y + m.shape[0] < r.quad[:, 1].min() - 0.03 * h or y > r.quad[:, 1].max() + 0.03 * h for r in face.rows)
            clear = clear and (on[int(y):int(y) + m.shape[0], int(x):int(x) + m.shape[1]] < 128).all()
            if clear:
                stamp(on if rng.random() < 0.8 else ghost, m, x, y)
                face.rows[0].decoys.append(np.array([(x, y), (x + m.shape[1], y), (x + m.shape[1], y + m.shape[0]), (x, y + m.shape[0])], np.float32))
                break


def paint(rng, face, s, on, ghost, h):
    """Turns masks into light: ground, ghosts, shadow, ink, bloom."""
    height, width = on.shape
    ground = np.empty((height, width, 3), np.float32)
    ground[:] = s["ground"]
    ramp_x, ramp_y = rng.uniform(-0.2, 0.2, 2)
    ramp = 1 + ramp_x * (np.linspace(-1, 1, width, dtype=np.float32))[None, :] + ramp_y * np.linspace(-1, 1, height, dtype=np.float32)[:, None]
    ground *= ramp[..., None]
    on_f = on.astype(np.float32) / 255
    ghost_f = ghost.astype(np.float32) / 255 * s["ghost"]
    if s["lit"]:
        lit = on_f[..., None] * s["ink"] * s["alpha"]
        if s["hot"]:
            core = cv2.erode(on, np.ones((3, 3), np.uint8)) if h > 30 else on
            lit = lit + core[..., None].astype(np.float32) / 255 * s["hot"] * 0.6
        if s["bloom"]:
            r = max(0.8, h * 0.08)
            lit = lit + cv2.GaussianBlur(lit, (0, 0), r) * s["bloom"] * 0.5
            lit = lit + cv2.GaussianBlur(lit, (0, 0), r * 4) * s["bloom"] * 0.15
        if rng.random() < 0.12:
            # Digits are lit in turn: a short exposure catches some of them darker, in bands.
            along = np.linspace(0, rng.uniform(1, 9), height if rng.random() < 0.5 else width, dtype=np.float32) + rng.uniform(0, 1)
            band = 1 - rng.uniform(0.2, 0.75) * (along % 1 < rng.uniform(0.2, 0.6))
            lit = lit * (band[:, None, None] if len(band) == height else band[None, :, None])
        face.emit = lit.astype(np.float32)
        ghost_ink = s["ink"] * 0.35 + 0.12
        face.refl = ground * (1 - ghost_f[..., None]) + ghost_ink * ghost_f[..., None]
    else:
        a = np.maximum(on_f * min(1.0, s["alpha"]), ghost_f)
        base = ground
        if s["shadow"]:
            d = max(1, int(h * rng.uniform(0.02, 0.09)))
            sh = cv2.GaussianBlur(np.roll(on_f, (d, int(d * rng.uniform(-1, 1))), (0, 1)), (0, 0), max(0.6, h * 0.02))
            base = ground * (1 - s["shadow"] * sh[..., None])
        full = base * (1 - a[..., None]) + s["ink"] * a[..., None]
        face.refl = full * (1 - s["glow"])
        face.emit = full * s["glow"]
