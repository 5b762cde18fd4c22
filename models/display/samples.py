"""From rendered pictures to what the three networks are trained on: tiles, strips and unit crops.

The geometry here is the contract with the Rust reader (`display/src/read.rs`): a row is (middle, direction,
half width, half height); a strip is 64 pixels high with the digits 39 of them; the neighbourhood in which a unit
mark is looked for is 144 by 384; the mark found is looked at in a patch 32 by 64, itself 18 of the 32.
"""

import cv2
import numpy as np

import face
import scene

TILE = 384
STRIP_H, STRIP_W, DIGIT = 64, 352, 39.0
MARGIN = 0.45           # on each side of a strip, in digit heights
AREA_H, AREA_W = 144, 384
AREA_X, AREA_Y = 7.0, 3.6  # a neighbourhood's width beyond the row, and its whole height, in digit heights
PATCH_H, PATCH_W, MARK = 32, 64, 18.0
ROWS = 8
MARKS = 6
ALPHABET = "0123456789.:-"  # class 0 is the blank


def row_of(quad):
    """Returns (cx, cy, ux, uy, half width, half height) of a quadrangle."""
    q = np.asarray(quad, np.float64)
    u = (q[1] + q[2]) - (q[0] + q[3])
    u = u / max(1e-6, np.linalg.norm(u))
    v = np.array([-u[1], u[0]])
    c = q.mean(0)
    hw = ((q[1] + q[2] - q[0] - q[3]) @ u) / 4
    hh = ((q[2] + q[3] - q[0] - q[1]) @ v) / 4
    return np.array([c[0], c[1], u[0], u[1], max(hw, 0.5), max(hh, 0.5)])


def sample(im, row, sx, sy, w, h):
    """Samples a turned window about a row's middle: `sx`, `sy` source pixels a pixel."""
    cx, cy, ux, uy = row[:4]
    level = max(0, int(np.floor(np.log2(max(1e-6, min(sx, sy))))))
    k = 2.0 ** level
    if level:
        im = cv2.resize(im, (max(1, int(im.shape[1] / k)), max(1, int(im.shape[0] / k))), interpolation=cv2.INTER_AREA)
    # From the window's pixel centres to the source's.
    a = np.array([[ux * sx, -uy * sy, cx - ux * sx * (w / 2 - 0.5) + uy * sy * (h / 2 - 0.5)],
                  [uy * sx, ux * sy, cy - uy * sx * (w / 2 - 0.5) - ux * sy * (h / 2 - 0.5)]]) / k
    a[:, 2] -= 0.5
    return cv2.warpAffine(im, a, (w, h), flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP, borderMode=cv2.BORDER_REPLICATE)


def strip(im, row):
    """Cuts the strip of a row: (64, 352, 3) and the width in use."""
    hw, hh = row[4:6]
    s = 2 * hh / DIGIT
    want = (2 * hw + 2 * MARGIN * 2 * hh)
    w = int(min(STRIP_W, max(16, np.ceil(want / s))))
    out = np.zeros((STRIP_H, STRIP_W, 3), np.uint8)
    out[:, :w] = sample(im, row, want / w, s, w, STRIP_H)
    return out, w


def area(im, row):
    """Cuts the neighbourhood of a row in which its unit mark may stand."""
    hw, hh = row[4:6]
    h = 2 * hh
    return sample(im, row, (2 * hw + AREA_X * h) / AREA_W, AREA_Y * h / AREA_H, AREA_W, AREA_H)


def patch(im, row, middle, tall):
    """Cuts the patch about a mark's middle, turned as its row is; the mark is `tall` pixels high in the picture."""
    s = tall / MARK
    return sample(im, np.array([*middle, *row[2:]]), s, s, PATCH_W, PATCH_H)


def jitter(rng, row, amount=1.0):
    """Moves a row as a detector's error would."""
    r = row.copy()
    h = 2 * r[5]
    a = rng.normal(0, 0.035) * amount
    u = np.array([np.cos(a) * r[2] - np.sin(a) * r[3], np.sin(a) * r[2] + np.cos(a) * r[3]])
    v = np.array([-u[1], u[0]])
    left, right = np.clip(rng.normal(0.02, 0.12, 2) * amount, -0.3, 0.45) * h
    c = r[:2] + u * (right - left) / 2 + v * h * np.clip(rng.normal(0, 0.06), -0.16, 0.16) * amount
    r[:2], r[2:4] = c, u
    r[4] = max(r[4] + (left + right) / 2, 0.1 * h)
    r[5] *= float(np.exp(np.clip(rng.normal(0.01, 0.085) * amount, -0.22, 0.25)))
    return r


def size_of(quad):
    """Returns a quadrangle's middle, width and height."""
    r = row_of(quad)
    return r[:2], 2 * r[4], 2 * r[5]


def marks_of(row, r, others, w, h):
    """Returns what a row's neighbourhood shows: (MARKS, 6) of left, top, right, bottom in its pixels, state (0 none,
    1 a mark of this row, 2 look away), class; and the half width of the row in it."""
    hw, hh = row[4:6]
    sx, sy = (2 * hw + 2 * AREA_X * hh) / AREA_W, 2 * AREA_Y * hh / AREA_H
    out = np.zeros((MARKS, 6), np.float32)
    found = [(u, q, True) for u, q in r.marks] + [(u, q, False) for o in others for u, q in o.marks]
    for i, (u, q, own) in enumerate(found[:MARKS]):
        d = np.asarray(q) - row[:2]
        x = (d @ row[2:4]) / sx + AREA_W / 2
        y = (d[:, 1] * row[2] - d[:, 0] * row[3]) / sy + AREA_H / 2
        b = np.array([x.min(), y.min(), x.max(), y.max()])
        if b[2] < 0 or b[3] < 0 or b[0] > AREA_W or b[1] > AREA_H:
            continue
        c, tall = (b[:2] + b[2:]) / 2, size_of(q)[2]
        clear = inside(q, w, h, -1) and tall > 4.5 and 4 < c[0] < AREA_W - 4 and 4 < c[1] < AREA_H - 4
        # Another row's mark is none of this row's: where it is as near, nobody knows whose it is.
        out[i] = [*b, 2 if not clear else 1 if own else 0, face.unit_class(u)]
    return out, hw / sx


def grown(rng, row):
    """Widens a row by a digit's room on one side, as the reader does when it looks for a digit left out."""
    r = row.copy()
    more = r[5] * rng.uniform(0.7, 2.6)
    side = 1 if rng.random() < 0.6 else -1
    r[:2] += side * more / 2 * r[2:4]
    r[4] += more / 2
    return r


def alone(p, row, rows):
    """Tells whether no other row stands on this one's line, where a wider strip would take it in."""
    for o in rows:
        q = row_of(o.quad)
        d = q[:2] - p[:2]
        if o is not row and abs(d[1] * p[2] - d[0] * p[3]) < p[5] + q[5] and abs(d @ p[2:4]) < p[4] + q[4] + 5 * p[5]:
            return False
    return True


def inside(q, w, h, slack):
    return q[:, 0].min() > -slack and q[:, 1].min() > -slack and q[:, 0].max() < w + slack and q[:, 1].max() < h + slack


def encode(text):
    return [ALPHABET.index(c) + 1 for c in text] if all(c in ALPHABET for c in text) else []


def picture(rng):
    """Renders one picture for the detector: (picture, rows) of any size up to a tile."""
    kind = face.pick(rng, {"whole": 74, "tight": 19, "empty": 7})
    dp = float(np.exp(rng.uniform(np.log(6.5), np.log(50))))
    if kind == "empty":
        return scene.scene(rng, TILE, TILE, dp, empty=True)
    if kind == "whole":
        return scene.scene(rng, TILE, TILE, dp)
    dp = float(np.exp(rng.uniform(np.log(14), np.log(90))))
    return scene.scene(rng, TILE, TILE, dp, plain=rng.random() < 0.75, roll=rng.normal(0, 0.07), tilt=0.12, fit=True)


def close(rng):
    """Renders a close picture, for strips alone."""
    dp = float(np.exp(rng.uniform(np.log(11), np.log(62))))
    return scene.scene(rng, int(dp * rng.uniform(5.5, 9)), int(dp * rng.uniform(2.6, 4.6)), dp, roll=rng.normal(0, 0.12), tilt=0.2)


def rows_of(rows, w, h):
    """Returns the detector's truth: (ROWS, 8) of row, primary, state (0 none, 1 true, 2 look away)."""
    out = np.zeros((ROWS, 8), np.float32)
    for i, r in enumerate([r for r in rows if not r.printed][:ROWS]):
        p = row_of(r.quad)
        good = inside(r.quad, w, h, 0.4 * p[5]) and p[5] > 2.4
        out[i] = [*p, float(r.primary), 1 if good else 2]
    return out


def marked(rng):
    """Renders a close picture of a display with a unit mark, mostly of a mass."""
    dp = float(np.exp(rng.uniform(np.log(14), np.log(76))))
    unit = face.pick(rng, {"g": 29, "kg": 19, "lb": 15, "oz": 15, "lb oz": 7, "none": 15})
    if rng.random() < 0.68:
        text, unit = scene.number(rng), unit
        while unit == "lb oz" and ":" not in text:
            text = scene.weight(rng)[0]
            text = text if ":" in text else f"{rng.integers(0, 20)}:{rng.integers(0, 160) / 10:.{rng.integers(0, 2)}f}"
        what = [[{"text": text, "unit": unit, "blanks": int(rng.choice([0, 0, 1, 2, 3])), "one_mark": unit == "lb oz" and rng.random() < 0.35}]]
        if rng.random() < 0.15:
            what.append([{"text": scene.number(rng), "primary": False, "scale": rng.uniform(0.28, 0.62),
                          "unit": str(rng.choice(["none", "none", "pcs", "%", "kg", "g"]))}])
    elif rng.random() < 0.4:
        what = [[{"text": scene.number(rng), "unit": str(rng.choice(face.OTHER_UNITS + face.STRANGE_UNITS))}]]
    else:
        what = scene.lines(rng)
    if rng.random() < 0.2:
        what[0][0]["mark_gain"] = rng.uniform(0.4, 1.0)
    return scene.scene(rng, int(dp * rng.uniform(6.5, 10)), int(dp * rng.uniform(3, 5.5)), dp, what, hard=rng.uniform(0.3, 1.0), roll=rng.normal(0, 0.12), tilt=0.2)


def neighbourhoods(rng, im, rows, copies=1):
    """Yields (neighbourhood, half width of the row in it, marks) of a picture's rows."""
    h, w = im.shape[:2]
    real = [r for r in rows if not r.printed]
    for r in real:
        p = row_of(r.quad)
        if p[5] < 5.5 or not inside(r.quad, w, h, 0.45 * p[5]) or not (r.primary or rng.random() < 0.6):
            continue
        for _ in range(copies):
            q = jitter(rng, p, 0.8)
            marks, half = marks_of(q, r, [o for o in real if o is not r], w, h)
            yield area(im, q), half, marks


def patches(rng, im, rows):
    """Yields (patch, class): marks as the finder would frame them, and things that are none."""
    h, w = im.shape[:2]
    real = [r for r in rows if not r.printed]
    if not real:
        return
    lead = row_of(real[0].quad)

    def cut(q, loose):
        c, wide, tall = size_of(q)
        tall = max(2.0, tall)
        c = c + rng.normal(0, 0.09 * loose, 2) * tall + rng.normal(0, 0.05 * loose) * wide * lead[2:4]
        a = rng.normal(0, 0.05)
        row = np.array([*lead[:2], np.cos(a) * lead[2] - np.sin(a) * lead[3], np.sin(a) * lead[2] + np.cos(a) * lead[3], *lead[4:]])
        return patch(im, row, c, tall * float(np.exp(np.clip(rng.normal(0, 0.12 * loose), -0.35, 0.35))))

    for r in real:
        for u, q in r.marks:
            if size_of(q)[2] > 4.5 and inside(q, w, h, -1):
                for _ in range(2):
                    yield cut(q, 1.0), face.unit_class(u)
        for q in r.decoys[:3]:
            if size_of(q)[2] > 3 and inside(q, w, h, -1):
                yield cut(q, 1.5), 0
    # Parts of digits, of words and of the ground.
    for _ in range(2):
        k = rng.random()
        words = [r for r in rows if r.printed]
        if k < 0.4:
            q = real[rng.integers(len(real))].quad
        elif k < 0.6 and words:
            q = words[rng.integers(len(words))].quad
        else:
            q = None
        tall = 2 * lead[5] * rng.uniform(0.13, 0.8)
        if q is not None:
            q = np.asarray(q)
            a, b = rng.random(2)
            c = (q[0] * (1 - a) + q[1] * a) * (1 - b) + (q[3] * (1 - a) + q[2] * a) * b
        else:
            c = np.array([rng.uniform(0, w), rng.uniform(0, h)])
            if any(np.abs(c - size_of(m)[0]).max() < size_of(m)[1] + tall for r in real for _, m in r.marks):
                continue
        yield patch(im, lead, c, tall), 0


def cuts(rng, im, rows, copies):
    """Yields (strip, width, classes) of a picture's rows."""
    h, w = im.shape[:2]
    real = [r for r in rows if not r.printed]
    for r in real:
        p = row_of(r.quad)
        if p[5] < 4.0 or not inside(r.quad, w, h, 0.45 * p[5]):
            continue
        label = encode(r.text.replace(" ", ""))
        for _ in range(copies):
            q = jitter(rng, p)
            if rng.random() < 0.2 and alone(p, r, real):
                q = grown(rng, q)
            yield *strip(im, q), label
    for r in rows:
        # A printed word: nothing to read.
        p = row_of(r.quad)
        if r.printed and p[5] > 4 and rng.random() < 0.15 and inside(r.quad, w, h, 0):
            yield *strip(im, jitter(rng, p)), []
    if rng.random() < 0.35:
        # Somewhere where no digits stand: nothing to read, though a lone shape may look like one.
        for i in range(5):
            hh = float(np.exp(rng.uniform(np.log(5), np.log(max(6, min(60, h / 4))))))
            p = np.array([rng.uniform(0, w), rng.uniform(0, h), 1, 0, hh * rng.uniform(0.3, 0.9) if rng.random() < 0.6 else rng.uniform(8, 60), hh])
            if all(abs(p[0] - q[0]) > p[4] + q[4] + 6 or abs(p[1] - q[1]) > p[5] + q[4] + 6 for q in (row_of(r.quad) for r in real)):
                yield *strip(im, jitter(rng, p)), []
                if i:
                    break
