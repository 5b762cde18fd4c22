"""Whole photos of displays, rendered: the device around the face, the place around the device, the camera.

`scene` returns the picture (blue first, 8 bit) and its rows with their corners in the picture. Nothing here
is a photograph and no make is copied: bodies, labels and backgrounds are drawn from random numbers.
"""

from functools import lru_cache

import cv2
import numpy as np

import face as F
from face import hsv, lettering, pick, poly

WORDS = ["ON", "OFF", "TARE", "UNIT", "ZERO", "MODE", "HOLD", "Max 5 kg  d=1 g", "0-10kg d=5g", "10-50kg d=10g", "MIN 20 g",
         "SCALE", "DIGITAL", "MODEL K-204", "PRECISION", "ENTER", "MENU", "CAL", "LITRES", "PRINT", "RESET", "No. 30512",
         "CLASS III", "TEMPERATURE", "HUMIDITY", "A RMS", "START", "STOP", "SET", "HIGH", "LOW", "SYS", "DIA", "PULSE",
         "CAPACITY 3000g", "kg", "g", "lb", "oz", "mmHg", "/min", "WEIGHT", "PRICE", "TOTAL", "2 x AAA", "1.5V", "LITRES", "GALLONS", "Enter",
         "Select", "Menu", "BEST", "SOLIS", "Belora", "OSO", "BS", "Z I L", "EIS"]


# ---------------------------------------------------------------- numbers to show

def number(rng):
    """A number such as a display shows; any digits are as likely as any others."""
    n = int(rng.choice([1, 2, 3, 4, 5, 6, 7], p=[0.07, 0.17, 0.26, 0.24, 0.16, 0.07, 0.03]))
    d = int(rng.choice([0, 1, 2, 3, 4], p=[0.36, 0.27, 0.21, 0.12, 0.04]))
    if rng.random() < 0.1:
        digits = "".join(rng.choice(list("0189"), n))
    else:
        digits = "".join(str(x) for x in rng.integers(0, 10, n))
    if rng.random() < 0.7 and n > d + 1:
        digits = digits.lstrip("0") or "0"
    n = len(digits)
    if 0 < d < n:
        digits = digits[:n - d] + "." + digits[n - d:]
    elif d and rng.random() < 0.4:
        digits = "0." + digits
    if rng.random() < 0.08:
        digits = "-" + digits
    return digits


def weight(rng):
    """A weight and its unit, as a scale would show it."""
    unit = pick(rng, {"g": 50, "kg": 20, "lb": 10, "oz": 10, "lb oz": 5, "none": 5})
    if rng.random() < 0.35:
        return number(rng), unit if unit != "lb oz" else "lb"
    g = float(np.exp(rng.uniform(np.log(20), np.log(9000))))
    if unit in ("g", "none"):
        t = f"{g:.{int(rng.choice([0, 1, 2], p=[0.65, 0.25, 0.1]))}f}"
    elif unit == "kg":
        t = f"{g / 1000:.{int(rng.choice([3, 2, 1], p=[0.6, 0.3, 0.1]))}f}"
    elif unit == "lb":
        t = f"{g / 453.6:.{int(rng.choice([2, 1, 3]))}f}"
    elif unit == "oz":
        t = f"{g / 28.35:.{int(rng.choice([2, 1]))}f}"
    else:
        lb, oz = divmod(g / 28.35, 16)
        t = f"{int(lb)}:{oz:.{int(rng.choice([0, 1, 2], p=[0.4, 0.5, 0.1]))}f}"
        if rng.random() < 0.3 and oz < 10:
            t = t.replace(":", ":0")
    if rng.random() < 0.07:
        t = "-" + t
    return t, unit


def clock(rng):
    return f"{int(rng.integers(0, 24))}:{int(rng.integers(0, 60)):02d}"


def lines(rng):
    """What a display shows: lines of items, see `face.draw`."""
    kind = pick(rng, {"scale": 42, "plain": 15, "pump": 8, "vital": 9, "thermo": 24, "pair": 5, "meter": 2, "word": 2, "clock": 2})
    blanks = int(rng.choice([0, 0, 0, 1, 2, 3]))
    if kind == "scale":
        t, u = weight(rng)
        out = [[{"text": t, "unit": u, "blanks": blanks}]]
        if rng.random() < 0.14:
            more = [{"text": clock(rng) if rng.random() < 0.3 else number(rng), "primary": False, "scale": rng.uniform(0.28, 0.62)}]
            if rng.random() < 0.3:
                more.append({"text": number(rng), "primary": False, "scale": more[0]["scale"]})
            out.insert(0, more) if rng.random() < 0.2 else out.append(more)
        return out
    if kind == "plain":
        return [[{"text": number(rng), "unit": "none" if rng.random() < 0.6 else str(rng.choice(F.OTHER_UNITS)), "blanks": blanks}]]
    if kind == "pump":
        whole = int(10 ** rng.uniform(0, 3))
        part = "00" if rng.random() < 0.3 else f"{rng.integers(0, 100):02d}"
        return [[{"text": f"{whole}.{part}", "wide": True, "blanks": blanks, "tech": "lcd" if rng.random() < 0.7 else None}]]
    if kind == "vital":
        return vital(rng)
    if kind == "thermo":
        return thermo(rng)
    if kind == "pair":
        u = pick(rng, {"none": 4, "C": 3, "F": 2, "V": 1})
        return [[{"text": number(rng)[-4:].lstrip("."), "unit": u, "near": rng.random() < 0.3}, {"text": number(rng)[-4:].lstrip("."), "unit": u if rng.random() < 0.8 else "A"}]]
    if kind == "meter":
        units = pick(rng, {"VA": 2, "none": 1})
        return [[{"text": number(rng), "unit": units[i] if units == "VA" else "none", "scale": 1.0 if i == 0 else rng.uniform(0.8, 1.0)}] for i in range(2)]
    if kind == "word":
        return [[{"text": str(rng.choice(["Err", "Lo", "HI", "CAL", "OFF", "tArE", "Init", "LoAd", "----", "Error", "HELLO", "UnLd", "AUtO"])),
                  "primary": False}]]
    return [[{"text": clock(rng), "primary": False}]]


def vital(rng):
    """A blood-pressure monitor: three lines of equal standing, perhaps a small line of date or time."""
    k = int(rng.choice([2, 3], p=[0.05, 0.95]))
    gain = 1.0 if rng.random() < 0.6 else rng.uniform(0.35, 0.9)
    said = rng.random() < 0.5
    out = []
    for i in range(k):
        low, high = ((85, 200), (45, 120), (40, 130))[i]
        text = str(int(rng.integers(low, high))) if rng.random() < 0.75 else number(rng)[-4:].lstrip(".")
        out.append([{"text": text, "scale": 1.0 if i < 2 else rng.uniform(0.5, 1.0), "gain": 1.0 if i == 0 else gain,
                     "label": ("SYS", "DIA", "PUL")[i] if said else None}])
    if rng.random() < 0.25:
        small = [{"text": clock(rng), "primary": False, "scale": rng.uniform(0.25, 0.45)}]
        out.insert(0, small) if rng.random() < 0.5 else out.append(small)
    return out


def thermo(rng):
    """A thermometer with the humidity, often as large, and often a clock: the temperature is the reading."""
    t = f"{rng.uniform(-9, 45):.1f}" if rng.random() < 0.9 else str(int(rng.uniform(-9, 110)))
    mark = pick(rng, {"top": 4, "foot": 4, "mid": 1})
    top = {"text": t, "unit": str(rng.choice(["C", "C", "F"])), "mark_at": mark}
    wet = {"text": str(int(rng.integers(10, 99))), "primary": False, "unit": "%", "mark_at": pick(rng, {"top": 2, "foot": 4}),
           "scale": rng.uniform(0.6, 1.12)}
    time = {"text": clock(rng), "primary": False, "scale": rng.uniform(0.3, 0.72), "near": rng.random() < 0.7}
    if rng.random() < 0.3:
        time["gain"] = rng.uniform(0.2, 0.8)
    if rng.random() < 0.25:
        # The colon blinks: a clock without it.
        time["text"] = time["text"].replace(":", " ")
    lay = pick(rng, {"clock beside": 55, "alone": 15, "side by side": 12, "three lines": 12, "clock first": 6})
    if lay == "alone":
        return [[top], [wet]]
    if lay == "side by side":
        return [[top, wet]] if rng.random() < 0.5 else [[top, wet], [time]]
    if lay == "three lines":
        return [[top], [wet], [time]]
    if lay == "clock first":
        return [[time], [top, wet]]
    return [[top], [time, wet]]


# ---------------------------------------------------------------- surfaces

def noise(rng, w, h, first=3, octaves=4, stretch=1.0):
    """Cloudy noise about 0.5, from a coarse grid to a fine one."""
    out = np.zeros((h, w), np.float32)
    amp, total, n = 1.0, 0.0, first
    for _ in range(octaves):
        g = rng.random((max(2, int(n * h / max(w, h)) + 2), max(2, int(n * stretch * w / max(w, h)) + 2)), dtype=np.float32)
        out += amp * cv2.resize(g, (w, h), interpolation=cv2.INTER_CUBIC)
        total += amp
        amp *= 0.55
        n *= 2.3
    return out / total


def skin(rng):
    return hsv(rng.uniform(8, 26), rng.uniform(0.25, 0.6), rng.uniform(0.35, 0.95))


def surface(rng, w, h, kind=None):
    """Draws a background: wood, grass, feathers, cloth, wall, tiles, gravel or plain."""
    kind = kind or pick(rng, {"wood": 22, "grass": 9, "feather": 8, "cloth": 9, "wall": 20, "tiles": 6, "gravel": 6, "plain": 14, "blur": 12})
    im = np.empty((h, w, 3), np.float32)
    if kind == "wood":
        im[:] = hsv(rng.uniform(15, 38), rng.uniform(0.2, 0.7), rng.uniform(0.25, 0.85))
        grain = noise(rng, w, h, 3, 5, 0.08) if rng.random() < 0.5 else noise(rng, w, h, 40, 3, 0.05)
        im *= (0.6 + 0.8 * grain)[..., None]
        step = int(max(w, h) * rng.uniform(0.12, 0.4))
        for y in range(int(rng.integers(0, step)), h, step):
            cv2.line(im, (0, y), (w, y + int(rng.uniform(-3, 3))), tuple((im.mean((0, 1)) * 0.35).tolist()), max(1, h // 250))
        if rng.random() < 0.4:
            im = np.ascontiguousarray(cv2.resize(np.rot90(im), (w, h)))
    elif kind in ("grass", "feather"):
        base = hsv(rng.uniform(70, 120), rng.uniform(0.3, 0.8), rng.uniform(0.15, 0.5)) if kind == "grass" else \
            hsv(rng.uniform(15, 40), rng.uniform(0.1, 0.6), rng.uniform(0.2, 0.7))
        im[:] = base
        n = 260 if kind == "grass" else 130
        u = max(w, h)
        for _ in range(n):
            x, y = rng.uniform(0, w), rng.uniform(0, h)
            a = rng.normal(-1.57, 0.5) if kind == "grass" else rng.normal(0.6, 0.35)
            ln = u * rng.uniform(0.03, 0.16)
            c = np.clip(base * rng.uniform(0.4, 1.9), 0, 1)
            p = np.array([(x, y), (x + ln * 0.5 * np.cos(a) + ln * 0.06, y + ln * 0.5 * np.sin(a)), (x + ln * np.cos(a + 0.2), y + ln * np.sin(a + 0.2))])
            cv2.polylines(im, [np.round(p * 16).astype(np.int32)], False, tuple(c.tolist()), max(1, int(u * (0.004 if kind == "grass" else 0.012))), cv2.LINE_AA, 4)
    else:
        c = hsv(rng.uniform(0, 360), rng.choice([rng.uniform(0, 0.15), rng.uniform(0.1, 0.8)], p=[0.6, 0.4]), rng.uniform(0.08, 0.98))
        im[:] = c
        if kind == "blur":
            for _ in range(int(rng.integers(3, 12))):
                col = tuple(hsv(rng.uniform(0, 360), rng.uniform(0, 0.8), rng.uniform(0.05, 1)).tolist())
                if rng.random() < 0.5:
                    cv2.circle(im, (int(rng.uniform(0, w)), int(rng.uniform(0, h))), int(max(w, h) * rng.uniform(0.05, 0.25)), col, -1)
                else:
                    x, y = rng.uniform(0, w), rng.uniform(0, h)
                    cv2.rectangle(im, (int(x), int(y)), (int(x + w * rng.uniform(0.05, 0.5)), int(y + h * rng.uniform(0.05, 0.5))), col, -1)
            im = cv2.GaussianBlur(im, (0, 0), max(w, h) * rng.uniform(0.003, 0.05))
        elif kind == "tiles":
            step = int(max(w, h) * rng.uniform(0.06, 0.3)) + 2
            for x in range(int(rng.integers(0, step)), max(w, h), step):
                cv2.line(im, (x, 0), (x, h), tuple((c * 0.5).tolist()), max(1, step // 25))
                cv2.line(im, (0, x), (w, x), tuple((c * 0.5).tolist()), max(1, step // 25))
        elif kind == "cloth":
            yy, xx = np.mgrid[0:h, 0:w].astype(np.float32)
            f = rng.uniform(0.05, 0.9)
            im *= (1 + 0.15 * np.sin((xx + yy) * f) * np.sin((xx - yy) * f))[..., None]
        elif kind == "gravel":
            im *= (0.4 + 1.2 * noise(rng, w, h, 60, 2))[..., None]
        im *= (0.75 + 0.5 * noise(rng, w, h, 2, 3))[..., None]
    return np.clip(im, 0, 1)


def write(rng, im, text, x, y, height, colour, name=None, alpha=1.0, turn=None):
    """Writes a word into a picture; may be turned by quarter turns."""
    m = lettering(text, height, name or str(rng.choice(F.ANY)))
    if turn:
        m = np.rot90(m, turn)
    lay(im, m, x, y, colour, alpha)


def lay(im, m, x, y, colour, alpha=1.0):
    x, y = int(round(x)), int(round(y))
    h, w = m.shape
    x0, y0, x1, y1 = max(0, x), max(0, y), min(im.shape[1], x + w), min(im.shape[0], y + h)
    if x1 > x0 and y1 > y0:
        a = (m[y0 - y:y1 - y, x0 - x:x1 - x].astype(np.float32) / 255 * alpha)[..., None]
        im[y0:y1, x0:x1] = im[y0:y1, x0:x1] * (1 - a) + np.asarray(colour, np.float32) * a


def dial(rng, im, cx, cy, r):
    """Draws a pointer dial with printed numbers: no display, and not to be read."""
    dark = rng.random() < 0.3
    cv2.circle(im, (int(cx), int(cy)), int(r), (0.12,) * 3 if dark else (0.93,) * 3, -1, cv2.LINE_AA)
    ink = (0.9,) * 3 if dark else (0.05,) * 3
    cv2.circle(im, (int(cx), int(cy)), int(r), tuple(hsv(rng.uniform(0, 360), 0.2, 0.4).tolist()), max(1, int(r / 14)), cv2.LINE_AA)
    step = int(rng.choice([1, 5, 10, 20, 50, 100]))
    for i in range(12):
        a = 2 * np.pi * i / 12
        cv2.line(im, (int(cx + r * 0.86 * np.cos(a)), int(cy + r * 0.86 * np.sin(a))), (int(cx + r * 0.96 * np.cos(a)), int(cy + r * 0.96 * np.sin(a))), ink, max(1, int(r / 40)))
        if r > 14:
            k = max(5, r * 0.13)
            write(rng, im, str(i * step), cx + r * 0.66 * np.cos(a) - k / 2, cy + r * 0.66 * np.sin(a) - k / 2, k, ink, "DejaVuSans.ttf")
    a = rng.uniform(0, 6.28)
    cv2.line(im, (int(cx), int(cy)), (int(cx + r * 0.8 * np.cos(a)), int(cy + r * 0.8 * np.sin(a))), (0.1, 0.1, 0.75), max(1, int(r / 25)), cv2.LINE_AA)


def clutter(rng, im, unit):
    """Lays other things with numbers in view about the picture; `unit` is a usual size in pixels."""
    h, w = im.shape[:2]
    for _ in range(int(rng.choice([0, 1, 2, 4, 7], p=[0.25, 0.25, 0.25, 0.15, 0.1]))):
        x, y = rng.uniform(-0.1, 1) * w, rng.uniform(-0.1, 1) * h
        kind = pick(rng, {"paper": 4, "dial": 2, "box": 4, "text": 4, "cable": 2})
        if kind == "paper":
            pw, ph = unit * rng.uniform(2, 9), unit * rng.uniform(1.5, 7)
            c = hsv(rng.uniform(20, 60), rng.uniform(0, 0.3), rng.uniform(0.6, 1))
            cv2.rectangle(im, (int(x), int(y)), (int(x + pw), int(y + ph)), tuple(c.tolist()), -1)
            k = unit * rng.uniform(0.2, 0.8)
            for i in range(int(min(8, ph / (k * 1.6 + 1)))):
                t = number(rng) if rng.random() < 0.5 else str(rng.choice(WORDS))
                write(rng, im, t, x + k * 0.5, y + k * (0.4 + 1.6 * i), k, (0.1, 0.1, 0.1), alpha=rng.uniform(0.6, 1))
        elif kind == "dial":
            dial(rng, im, x, y, unit * rng.uniform(0.7, 4))
        elif kind == "box":
            c = hsv(rng.uniform(0, 360), rng.uniform(0, 0.8), rng.uniform(0.05, 1))
            p = np.array([(x, y), (x + unit * rng.uniform(1, 8), y + unit * rng.uniform(-1, 1)),
                          (x + unit * rng.uniform(1, 8), y + unit * rng.uniform(1, 6)), (x - unit * rng.uniform(0, 1), y + unit * rng.uniform(1, 6))])
            cv2.fillPoly(im, [np.round(p * 16).astype(np.int32)], tuple(c.tolist()), cv2.LINE_AA, 4)
        elif kind == "text":
            write(rng, im, number(rng) if rng.random() < 0.5 else str(rng.choice(WORDS)), x, y, unit * rng.uniform(0.25, 1.1),
                  hsv(rng.uniform(0, 360), rng.uniform(0, 0.9), rng.uniform(0, 1)), turn=int(rng.choice([0, 0, 0, 1, 3])))
        else:
            p = np.cumsum(np.vstack([(x, y), rng.normal(0, unit * 1.6, (6, 2))]), 0)
            cv2.polylines(im, [np.round(p * 16).astype(np.int32)], False, tuple(hsv(rng.uniform(0, 360), rng.uniform(0, 0.9), rng.uniform(0.02, 0.9)).tolist()), max(1, int(unit * rng.uniform(0.08, 0.4))), cv2.LINE_AA, 4)


# ---------------------------------------------------------------- the device

def rounded(w, h, r):
    m = np.zeros((h, w), np.uint8)
    r = int(min(r, w / 2 - 1, h / 2 - 1))
    if r < 1:
        m[:] = 255
        return m
    cv2.rectangle(m, (r, 0), (w - r - 1, h - 1), 255, -1)
    cv2.rectangle(m, (0, r), (w - 1, h - r - 1), 255, -1)
    for c in ((r, r), (w - r - 1, r), (r, h - r - 1), (w - r - 1, h - r - 1)):
        cv2.circle(m, c, r, 255, -1, cv2.LINE_AA)
    return m


def device(rng, fc, h, plain=False):
    """Puts a face into a body. Returns (refl, emit, alpha, (x, y) of the face in the body)."""
    fh, fw = fc.refl.shape[:2]
    grow = lambda lo, hi: rng.uniform(lo, hi) ** (1 if rng.random() < 0.7 else 2)
    left, right = fw * (grow(1.04, 1.45) - 1), fw * (grow(1.04, 1.45) - 1)
    up, down = fh * (grow(1.1, 1.7) - 1), fh * (grow(1.1, 2.0) - 1)
    if plain:
        left = right = up = down = h * rng.uniform(0.02, 0.3)
    left, right, up, down = (int(max(3, v)) for v in (left, right, up, down))
    w, hh = fw + left + right, fh + up + down
    colour = hsv(rng.uniform(0, 360), rng.choice([rng.uniform(0, 0.1), rng.uniform(0.1, 0.9)], p=[0.65, 0.35]),
                 rng.choice([rng.uniform(0.03, 0.2), rng.uniform(0.2, 0.6), rng.uniform(0.6, 1.0)]))
    refl = np.empty((hh, w, 3), np.float32)
    refl[:] = colour
    if rng.random() < 0.15:
        refl *= (0.8 + 0.4 * noise(rng, w, hh, 60, 2, 0.05))[..., None]
    ink = np.float32([0.92] * 3) if colour.mean() < 0.5 else np.float32([0.08] * 3)
    if rng.random() < 0.2:
        ink = hsv(rng.uniform(0, 360), 0.9, 0.9 if colour.mean() < 0.5 else 0.4)
    # A window of other colour about the face.
    if rng.random() < 0.6:
        m = [h * rng.uniform(0.04, 0.8) for _ in range(4)]
        c = hsv(rng.uniform(0, 360), rng.uniform(0, 0.3), rng.choice([rng.uniform(0.02, 0.15), rng.uniform(0.5, 0.95)], p=[0.7, 0.3]))
        a = (int(max(0, left - m[0])), int(max(0, up - m[1])))
        b = (int(min(w, left + fw + m[2])), int(min(hh, up + fh + m[3])))
        if b[0] - a[0] > 4 and b[1] - a[1] > 4:
            lay(refl, rounded(b[0] - a[0], b[1] - a[1], h * rng.uniform(0, 0.5)), a[0], a[1], c)
    room = [(0, 0, w, up), (0, up + fh, w, down), (0, up, left, fh), (left + fw, up, right, fh)]
    for _ in range(int(rng.choice([0, 2, 5, 9], p=[0.12, 0.35, 0.35, 0.18]))):
        x0, y0, rw, rh = room[rng.choice(4, p=[0.3, 0.5, 0.1, 0.1])]
        if rw < h * 0.3 or rh < h * 0.3:
            continue
        x, y = x0 + rng.uniform(0, rw * 0.85), y0 + rng.uniform(0, rh * 0.8)
        k = min(h * rng.uniform(0.1, 0.5), rh * 0.5)
        kind = pick(rng, {"word": 6, "button": 4, "led": 1, "number": 1, "wheel": 0.7})
        if kind == "word":
            word = str(rng.choice(WORDS))
            k = max(3, k * (rng.uniform(1.2, 2.2) if rng.random() < 0.15 and rh > h else 1))
            m = lettering(word, k, str(rng.choice(F.ANY)))
            lay(refl, m, x, y, ink)
            if not any(c.isdigit() for c in word) and len(word) > 2 and x + m.shape[1] < w and y + m.shape[0] < hh:
                quad = np.float32([(x, y), (x + m.shape[1], y), (x + m.shape[1], y + m.shape[0]), (x, y + m.shape[0])])
                fc.rows.append(F.Row("", False, quad - np.float32((left, up)), printed=True))
        elif kind == "number":
            write(rng, refl, number(rng), x, y, max(3, k), ink)
        elif kind == "wheel":
            for i, d in enumerate(number(rng).replace(".", "")):
                a = (int(x + i * k * 1.5), int(y))
                cv2.rectangle(refl, a, (int(a[0] + k * 1.3), int(y + k * 1.7)), (0.1,) * 3 if rng.random() < 0.5 else (0.95,) * 3, -1)
                write(rng, refl, d, a[0] + k * 0.3, y + k * 0.3, max(3, k), (0.6,) * 3, "DejaVuSans-Bold.ttf")
        elif kind == "led":
            cv2.circle(refl, (int(x), int(y)), max(1, int(k * 0.4)), tuple(hsv(rng.uniform(0, 140), 0.9, 1.0).tolist()), -1, cv2.LINE_AA)
        else:
            c = tuple(hsv(rng.uniform(0, 360), rng.uniform(0, 0.9), rng.uniform(0.1, 1)).tolist())
            if rng.random() < 0.5:
                cv2.circle(refl, (int(x), int(y)), int(k), c, -1, cv2.LINE_AA)
            else:
                cv2.rectangle(refl, (int(x), int(y)), (int(x + k * rng.uniform(1, 4)), int(y + k * rng.uniform(0.6, 1.6))), c, -1)
            if rng.random() < 0.7:
                write(rng, refl, str(rng.choice(WORDS[:8])), x - k * 0.5, y - k * 0.2 if rng.random() < 0.5 else y + k * 1.3, max(3, k * 0.5), ink)
    # The unit printed on the body beside a display that does not show it.
    emit = np.zeros_like(refl)
    fm = rounded(fw, fh, h * rng.choice([0, rng.uniform(0, 0.35)])).astype(np.float32)[..., None] / 255
    region = (slice(up, up + fh), slice(left, left + fw))
    f_refl = fc.refl
    if rng.random() < 0.3:
        # A soft inner shadow under the frame.
        d = max(1, int(h * rng.uniform(0.05, 0.3)))
        shade = np.ones((fh, fw), np.float32)
        shade[:d] *= np.linspace(rng.uniform(0.3, 0.8), 1, d, dtype=np.float32)[:, None][:fh]
        f_refl = f_refl * shade[..., None]
    f_emit = fc.emit
    if rng.random() < 0.2:
        # The glass lies deep in the body: its side walls stand dark or bright about it, close to the digits.
        wall = np.ones((fh, fw), np.float32)
        tone = rng.uniform(0.05, 0.5)
        for side in range(3):
            d = int(h * rng.uniform(0.03, 0.3))
            if rng.random() < 0.5 and d:
                wall[(slice(None), slice(0, d)) if side == 0 else (slice(None), slice(fw - d, fw)) if side == 1 else (slice(0, d), slice(None))] = 0
        f_refl = f_refl * wall[..., None] + colour * tone * (1 - wall[..., None])
        f_emit = f_emit * wall[..., None]
    refl[region] = refl[region] * (1 - fm) + f_refl * fm
    emit[region] = f_emit * fm
    if fc.lit and rng.random() < 0.4:
        emit = np.maximum(emit, cv2.GaussianBlur(emit, (0, 0), max(1, h * 0.5)) * rng.uniform(0.02, 0.2))
    if rng.random() < 0.5:
        cv2.rectangle(refl, (left - 1, up - 1), (left + fw, up + fh), tuple((colour * rng.uniform(0.2, 1.4)).clip(0, 1).tolist()), max(1, int(h * rng.uniform(0.01, 0.12))))
    return refl, emit, rounded(w, hh, h * rng.choice([0, rng.uniform(0.1, 1.0)])), (left, up)


def reflect(rng, refl, at, fw, fh):
    """Lays a reflection of a window, a lamp or a face over the glass."""
    x, y = at
    glass = np.zeros((fh, fw), np.float32)
    kind = pick(rng, {"window": 3, "streak": 3, "lamp": 2, "cloud": 3})
    if kind in ("window", "streak"):
        a, b = rng.uniform(-0.3, 1.0) * fw, rng.uniform(0.1, 0.6) * fw
        lean = rng.uniform(-1, 1) * fh
        poly_pts = [(a, 0), (a + b, 0), (a + b + lean, fh), (a + lean, fh)]
        m = np.zeros((fh, fw), np.uint8)
        poly(m, poly_pts)
        glass = m.astype(np.float32) / 255
        glass = cv2.GaussianBlur(glass, (0, 0), max(0.5, fh * rng.uniform(0.002, 0.08)))
        level = rng.uniform(0.03, 0.35)
    elif kind == "lamp":
        cv2.circle(glass, (int(rng.uniform(0, fw)), int(rng.uniform(0, fh))), int(fh * rng.uniform(0.06, 0.3)), 1.0, -1)
        glass = cv2.GaussianBlur(glass, (0, 0), max(0.8, fh * rng.uniform(0.02, 0.12)))
        level = rng.uniform(0.1, 0.8)
    else:
        glass = np.clip(noise(rng, fw, fh, 3, 3) * 2 - 0.7, 0, 1)
        level = rng.uniform(0.05, 0.35)
    tint = hsv(rng.uniform(0, 360), rng.choice([rng.uniform(0, 0.25), rng.uniform(0.3, 0.9)], p=[0.7, 0.3]), 1.0)
    part = refl[y:y + fh, x:x + fw]
    part += glass[..., None] * tint * level


# ---------------------------------------------------------------- the camera

def homography(rng, w, h, roll, tilt):
    """Maps a body (w, h) about its middle to the picture plane, unit scale, by a turn in space."""
    yaw, pitch = np.clip(rng.normal(0, tilt, 2), -0.6, 0.6)
    cy, sy, cp, sp, cr, sr = np.cos(yaw), np.sin(yaw), np.cos(pitch), np.sin(pitch), np.cos(roll), np.sin(roll)
    r = np.array([[cr, -sr, 0], [sr, cr, 0], [0, 0, 1]]) @ np.array([[cy, 0, sy], [0, 1, 0], [-sy, 0, cy]]) @ np.array([[1, 0, 0], [0, cp, -sp], [0, sp, cp]])
    d = max(w, h) * rng.uniform(1.6, 5)
    k = np.array([[d, 0, 0], [0, d, 0], [0, 0, 1]])
    return k @ np.column_stack([r[:, 0], r[:, 1], np.array([0, 0, d])])


def roll_angle(rng):
    """How a phone is held: mostly upright, often on its side, rarely upside down. Radians, clockwise."""
    kind = pick(rng, {"up": 66, "tilt": 16, "right": 8.5, "left": 8.5, "down": 1})
    return {"up": rng.normal(0, 0.08), "tilt": rng.uniform(-0.55, 0.55), "right": np.pi / 2 + rng.normal(0, 0.14),
            "left": -np.pi / 2 + rng.normal(0, 0.14), "down": np.pi + rng.normal(0, 0.12)}[kind]


def light(rng, im, emit, strength=1.0):
    """Lights the scene: level, shade, colour, then what shines of itself."""
    h, w = im.shape[:2]
    level = pick(rng, {"day": 66, "dim": 20, "dark": 6, "sun": 8})
    amb = {"day": rng.uniform(0.6, 1.15), "dim": rng.uniform(0.25, 0.6), "dark": rng.uniform(0.05, 0.25), "sun": rng.uniform(1.1, 1.7)}[level]
    gain = rng.uniform(0.7, 1.2)
    if level in ("dark", "dim") and rng.random() < 0.8:
        gain = min(1.5, 0.55 / amb)
    field = np.float32(1) + rng.uniform(-0.3, 0.3) * np.linspace(-1, 1, w, dtype=np.float32)[None, :] + rng.uniform(-0.3, 0.3) * np.linspace(-1, 1, h, dtype=np.float32)[:, None]
    if rng.random() < 0.22 * strength:
        m = np.zeros((h, w), np.uint8)
        a = rng.uniform(0, 6.28)
        c = np.array([rng.uniform(0.1, 0.9) * w, rng.uniform(0.1, 0.9) * h])
        u, v = np.array([np.cos(a), np.sin(a)]), np.array([-np.sin(a), np.cos(a)])
        big = 2 * max(w, h)
        depth = big if rng.random() < 0.6 else max(w, h) * rng.uniform(0.1, 0.4)
        poly(m, [c - u * big, c + u * big, c + u * big + v * depth, c - u * big + v * depth])
        s = cv2.GaussianBlur(m.astype(np.float32) / 255, (0, 0), max(0.5, max(w, h) * rng.uniform(0.001, 0.03)))
        field = field * (1 - s * rng.uniform(0.3, 0.75))
    wb = np.float32([rng.uniform(0.82, 1.15), 1.0, rng.uniform(0.85, 1.18)])
    out = im * (field[..., None] * wb * amb * gain)
    out += emit * (gain * rng.uniform(0.55, 1.25))
    return out


@lru_cache(maxsize=1)
def grain_sheet():
    return np.random.default_rng(0).standard_normal((1024, 1024, 3), dtype=np.float32)


def grain(rng, h, w):
    """Returns sensor noise: a window of a fixed sheet where it is large enough, else fresh."""
    if h > 900 or w > 900:
        return rng.standard_normal((h, w, 3), dtype=np.float32)
    y, x = rng.integers(0, 1024 - h), rng.integers(0, 1024 - w)
    return grain_sheet()[y:y + h, x:x + w] * np.float32(1 if rng.random() < 0.5 else -1)


def camera(rng, im, digit_px, hard=1.0):
    """Blurs, glares, adds noise, sharpens and compresses; takes floats, gives 8 bit."""
    h, w = im.shape[:2]
    if rng.random() < 0.12 * hard:
        g = np.zeros((h // 4 + 1, w // 4 + 1), np.float32)
        cv2.circle(g, (int(rng.uniform(0, w / 4)), int(rng.uniform(0, h / 4))), max(1, int(max(w, h) / 4 * rng.uniform(0.01, 0.06))), 1, -1)
        g = cv2.GaussianBlur(g, (0, 0), max(1, max(w, h) / 4 * rng.uniform(0.01, 0.08)))
        im = im + cv2.resize(g, (w, h))[..., None] * rng.uniform(0.2, 1.0)
    if rng.random() < 0.08 * hard:
        im = im * (1 - (v := rng.uniform(0.03, 0.25))) + v * rng.uniform(0.4, 1.0)
    blur = rng.choice([0.0, rng.uniform(0.0, 0.05), rng.uniform(0.05, 0.11)], p=[0.35, 0.45, 0.2]) * digit_px * hard
    if blur > 0.25:
        im = cv2.GaussianBlur(im, (0, 0), blur)
    if rng.random() < 0.2 * hard:
        n = max(2, int(digit_px * rng.uniform(0.04, 0.22)))
        k = np.zeros((2 * n + 1, 2 * n + 1), np.float32)
        a = rng.uniform(0, 6.28)
        v = (np.cos(a) * n / 2, np.sin(a) * n / 2)
        cv2.line(k, (int(round(n - v[0])), int(round(n - v[1]))), (int(round(n + v[0])), int(round(n + v[1]))), 1.0, 1)
        im = cv2.filter2D(im, -1, k / k.sum())
    g = rng.uniform(0.75, 1.3)
    shoulder = rng.uniform(0.33, 1.0)
    im = np.minimum(im, im * shoulder + 0.8 * (1 - shoulder))
    im = cv2.pow(np.clip(im, 0, 1), g)
    sigma = rng.choice([0.003, rng.uniform(0.005, 0.025), rng.uniform(0.025, 0.07)], p=[0.4, 0.42, 0.18]) * hard
    n = grain(rng, h, w)
    if rng.random() < 0.5:
        n = cv2.GaussianBlur(n, (0, 0), 0.7) * 1.9
    im = im + n * cv2.sqrt(im + 0.1) * np.float32(sigma)
    if rng.random() < 0.3:
        im = im + (im - cv2.GaussianBlur(im, (0, 0), max(0.8, digit_px * 0.03))) * rng.uniform(0.3, 1.5)
    if rng.random() < 0.06:
        im = np.repeat(im.mean(2, keepdims=True), 3, 2)
    out = (np.clip(np.nan_to_num(im), 0, 1) * 255).astype(np.uint8)
    if rng.random() < 0.75:
        q = int(rng.choice([rng.integers(25, 60), rng.integers(60, 96)], p=[0.3 * hard, 1 - 0.3 * hard]))
        out = cv2.imdecode(cv2.imencode(".jpg", out, [cv2.IMWRITE_JPEG_QUALITY, q])[1], cv2.IMREAD_COLOR)
    return out


def hand(rng, im, x, y, unit, towards):
    """Draws fingers that come in from a side and end near (x, y)."""
    c = skin(rng)
    for i in range(int(rng.integers(1, 5))):
        off = np.array([-towards[1], towards[0]]) * unit * 0.55 * (i - 1.5)
        tip = np.array([x, y]) + off + towards * unit * rng.uniform(-0.3, 0.2)
        root = tip - towards * unit * 8
        col = np.clip(c * rng.uniform(0.85, 1.12), 0, 1)
        t = max(2, int(unit * rng.uniform(0.45, 0.6)))
        cv2.line(im, tuple(np.int32(root)), tuple(np.int32(tip)), tuple((col * 0.7).tolist()), t + max(1, t // 8), cv2.LINE_AA)
        cv2.line(im, tuple(np.int32(root)), tuple(np.int32(tip)), tuple(col.tolist()), t, cv2.LINE_AA)
        cv2.ellipse(im, tuple(np.int32(tip)), (max(1, t // 3), max(1, t // 4)), float(np.degrees(np.arctan2(towards[1], towards[0]))), 0, 360,
                    tuple(np.clip(col * 1.15 + 0.05, 0, 1).tolist()), -1, cv2.LINE_AA)


def stamp_date(rng, out):
    """Writes the line of date and number that some phones put on a photo."""
    h, w = out.shape[:2]
    im = out.astype(np.float32) / 255
    k = max(6, h * rng.uniform(0.02, 0.05))
    y = h - k * 3.4 if rng.random() < 0.8 else k
    mon = str(rng.choice(["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]))
    for i, t in enumerate([f"{mon} {rng.integers(1, 29)}, 20{rng.integers(18, 27)} {rng.integers(1, 13)}:{rng.integers(0, 60):02d}:{rng.integers(0, 60):02d} PM", f"No. {rng.integers(1, 9999)}"]):
        m = lettering(t, k, str(rng.choice(F.SANS)))
        lay(im, m, (w - m.shape[1] - k) if rng.random() < 0.7 else k, y + i * k * 1.6, (1, 1, 1), rng.uniform(0.6, 1))
    return (im * 255).astype(np.uint8)


# ---------------------------------------------------------------- the whole

def scene(rng, w, h, digit_px, what=None, s=None, plain=None, hard=1.0, roll=None, tilt=0.2, ground=None, empty=False, behind=None, fit=False):
    """Renders a picture (h, w) with a display whose digits are about `digit_px` high.

    Returns (picture, rows): each row a `face.Row` whose quad lies in the picture. `empty` leaves the display out;
    `behind(rng, picture)` may draw into the background first; `fit` cuts the picture close about the rows, (h, w)
    being the most."""
    rows = []
    if not empty:
        fh = float(np.clip(digit_px * 1.5, 20, 120 if digit_px < 90 else digit_px * 1.15))
        plain = rng.random() < 0.12 if plain is None else plain
        shown = what if what is not None else lines(rng)
        s = s or F.style(rng, shown[0][0].get("tech"))
        # A point finer than the picture's grain would teach to guess.
        s["point_size"] = max(s["point_size"], 1.4 / digit_px)
        fc = F.draw(rng, shown, fh, s, tight=plain and rng.random() < 0.6)
        refl, em, alpha, at = device(rng, fc, fh, plain)
        for _ in range(int(rng.choice([0, 1, 2], p=[1 - 0.5 * hard, 0.35 * hard, 0.15 * hard]))):
            reflect(rng, refl, at, fc.refl.shape[1], fc.refl.shape[0])
        bh, bw = refl.shape[:2]
        roll = roll_angle(rng) if roll is None else roll
        m = homography(rng, fc.refl.shape[1], fc.refl.shape[0], roll, tilt)
        mid = np.array([[1, 0, -(at[0] + fc.refl.shape[1] / 2)], [0, 1, -(at[1] + fc.refl.shape[0] / 2)], [0, 0, 1]])
        m = m @ mid
        quads = [cv2.perspectiveTransform((r.quad + np.float32(at))[None].astype(np.float64), m)[0] for r in fc.rows if not r.printed]
        tall = max(np.linalg.norm(q[0] - q[3]) for q in quads)
        k = digit_px / tall
        pts = np.vstack(quads) * k
        lo, hi = pts.min(0), pts.max(0)
        edge = digit_px * (rng.uniform(-0.12, 0.15) if plain and rng.random() < 0.5 else rng.uniform(0.05, 0.5))
        if fit:
            edges = digit_px * np.where(rng.random(4) < 0.5, rng.uniform(-0.1, 0.15, 4), rng.uniform(0.05, 0.6, 4))
            size = hi - lo + edges[:2] + edges[2:]
            shrink = min(1.0, w / size[0], h / size[1])
            k, digit_px, lo, hi, edges, size = (v * shrink for v in (k, digit_px, lo, hi, edges, size))
            w, h = (int(max(8, v)) for v in size)
            place = edges[:2] - lo
        else:
            place = [rng.uniform(-lo[i] + edge, n - hi[i] - edge) if hi[i] - lo[i] + 2 * edge < n else n / 2 - (lo[i] + hi[i]) / 2
                     for i, n in enumerate((w, h))]
    im = surface(rng, w, h, ground)
    if behind:
        behind(rng, im)
    else:
        clutter(rng, im, digit_px * rng.uniform(0.8, 2))
    emit = np.zeros_like(im)
    if not empty:
        m = np.array([[k, 0, place[0]], [0, k, place[1]], [0, 0, 1]]) @ m
        a = cv2.warpPerspective(alpha, m, (w, h), flags=cv2.INTER_LINEAR).astype(np.float32)[..., None] / 255
        flag = cv2.INTER_AREA if fh > 2 * digit_px else cv2.INTER_LINEAR
        if rng.random() < 0.5:
            sh = cv2.GaussianBlur(a[..., 0], (0, 0), max(1, digit_px * rng.uniform(0.1, 0.6)))
            d = (int(digit_px * rng.uniform(-0.5, 0.5)), int(digit_px * rng.uniform(0, 0.6)))
            im *= (1 - 0.6 * np.roll(sh, d, (1, 0)))[..., None]
        im = im * (1 - a) + cv2.warpPerspective(refl, m, (w, h), flags=flag, borderMode=cv2.BORDER_REPLICATE) * a
        emit = cv2.warpPerspective(em, m, (w, h), flags=flag) * a
        seen = lambda q: cv2.perspectiveTransform((q + np.float32(at))[None].astype(np.float64), m)[0]
        rows = [F.Row(r.text, r.primary, seen(r.quad), r.unit, r.printed, [(u, seen(q)) for u, q in r.marks], [seen(q) for q in r.decoys]) for r in fc.rows]
        if rng.random() < 0.15 * hard:
            box = np.vstack([r.quad for r in rows if not r.printed])
            c, half = (box.min(0) + box.max(0)) / 2, (box.max(0) - box.min(0)) / 2
            ang = rng.uniform(0, 6.28)
            d = np.array([np.cos(ang), np.sin(ang)])
            reach = min(half[0] / (abs(d[0]) + 1e-6), half[1] / (abs(d[1]) + 1e-6)) + digit_px * rng.uniform(1.5, 3)
            t = c + d * reach
            hand(rng, im, t[0], t[1], digit_px * rng.uniform(0.7, 1.6), -d)
    im = light(rng, im, emit, hard)
    out = camera(rng, im, digit_px, hard)
    if rng.random() < 0.08 and w >= 300:
        out = stamp_date(rng, out)
    return out, rows
