"""Makes one photo of a scale for demonstrations and tests: rendered, with the time in its EXIF.

    python make_photo.py --reading 642 --unit g --out scale.jpg --seed 7 --taken "2026-03-14T08:10:00+01:00"

`--taken` without an offset writes a local time alone, as many cameras do. `--ground` and `--tech` choose the
place and the kind of display; `--hard 0` makes an easy picture, 1 a poor one. The same arguments give the same bytes.
"""

import argparse
import io
from datetime import datetime

import cv2
import numpy as np
from PIL import Image

import face
import scene

SCALE_WORDS = ["ON", "OFF", "TARE", "UNIT", "ZERO", "MODE", "HOLD", "Max 5 kg  d=1 g", "CAPACITY 5000 g", "MIN 20 g", "SCALE"]


def falconry(rng, im):
    """Draws a bow perch or a block, a glove's cuff and a leash behind the scale."""
    h, w = im.shape[:2]
    wood = scene.hsv(rng.uniform(20, 35), 0.5, rng.uniform(0.3, 0.6))
    if rng.random() < 0.6:
        y = h * rng.uniform(0.02, 0.16)
        t = int(h * rng.uniform(0.05, 0.09))
        cv2.line(im, (0, int(y)), (w, int(y + h * rng.uniform(-0.04, 0.04))), tuple((wood * 0.5).tolist()), t + t // 5, cv2.LINE_AA)
        cv2.line(im, (0, int(y)), (w, int(y)), tuple(wood.tolist()), t, cv2.LINE_AA)
        for i in range(40):
            x = w * (0.3 + 0.4 * i / 40)
            cv2.line(im, (int(x), int(y - t / 2)), (int(x + t * 0.2), int(y + t / 2)), (0.15, 0.3, 0.15), max(1, t // 9), cv2.LINE_AA)
    leather = scene.hsv(rng.uniform(18, 30), rng.uniform(0.4, 0.7), rng.uniform(0.25, 0.5))
    x = w * rng.uniform(0.75, 0.95)
    cv2.ellipse(im, (int(x), h), (int(w * 0.16), int(h * 0.22)), 0, 0, 360, tuple((leather * 0.6).tolist()), -1, cv2.LINE_AA)
    cv2.ellipse(im, (int(x), h), (int(w * 0.15), int(h * 0.21)), 0, 0, 360, tuple(leather.tolist()), -1, cv2.LINE_AA)
    p = np.cumsum(np.vstack([(w * 0.02, h * rng.uniform(0.75, 0.95)), rng.normal((w * 0.05, 0), (w * 0.02, h * 0.03), (12, 2))]), 0)
    cv2.polylines(im, [np.round(p * 16).astype(np.int32)], False, tuple((leather * 1.3).clip(0, 1).tolist()), max(2, w // 130), cv2.LINE_AA, 4)


def items(reading, unit):
    """Returns the lines of a display that shows one weight."""
    return [[{"text": reading, "unit": "lb oz" if unit in ("lb:oz", "lb oz") else unit or "none", "mark_at": "foot"}]]


def picture(args):
    """Renders until every corner of the display lies well inside the picture."""
    scene.WORDS[:] = SCALE_WORDS
    for attempt in range(50):
        rng = np.random.default_rng([args.seed, attempt])
        s = face.style(rng, args.tech)
        s["ghost"] = min(s["ghost"], 0.06)
        roll = np.radians(args.roll) + rng.normal(0, 0.05)
        im, rows = scene.scene(rng, args.width, args.height, args.height * args.digit, items(args.reading, args.unit), s,
                               plain=False, hard=args.hard, roll=roll, tilt=0.12, ground=args.ground, behind=falconry)
        q = np.vstack([r.quad for r in rows])
        inside = (q > 0.02 * args.width).all() and (q[:, 0] < 0.98 * args.width).all() and (q[:, 1] < 0.97 * args.height).all()
        # The digits must differ from their ground by enough for an eye to read them.
        x0, y0 = np.maximum(q.min(0), 0).astype(int)
        x1, y1 = q.max(0).astype(int)
        spread = np.percentile(im[y0:y1, x0:x1].mean(2), [8, 92]) if inside else (0, 0)
        if inside and spread[1] - spread[0] > 55:
            return im
    raise SystemExit("no clear picture came out of this seed; try another")


def save(im, out, taken, quality):
    """Writes the JPEG with the time of taking (CIPA DC-008: 0x9003 DateTimeOriginal, 0x9011 OffsetTimeOriginal)."""
    exif = Image.Exif()
    exif[0x0112] = 1
    if taken:
        at = datetime.fromisoformat(taken)
        inner = exif.get_ifd(0x8769)
        inner[0x9003] = at.strftime("%Y:%m:%d %H:%M:%S")
        if at.microsecond:
            inner[0x9291] = f"{at.microsecond // 1000:03d}"
        if at.tzinfo:
            o = at.strftime("%z")
            inner[0x9011] = f"{o[:3]}:{o[3:5]}"
    buf = io.BytesIO()
    Image.fromarray(cv2.cvtColor(im, cv2.COLOR_BGR2RGB)).save(buf, "JPEG", quality=quality, exif=exif)
    with open(out, "wb") as f:
        f.write(buf.getvalue())


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("--reading", required=True, help="digits as shown, such as 642, 1.085 or 1:8.5")
    p.add_argument("--unit", default="g", choices=["g", "kg", "lb", "oz", "lb:oz", "none"])
    p.add_argument("--out", required=True)
    p.add_argument("--seed", type=int, default=1)
    p.add_argument("--taken", help="ISO time; with an offset, or local without one")
    p.add_argument("--tech", choices=["lcd", "backlit", "negative", "led", "dots"], default="lcd")
    p.add_argument("--ground", choices=["wood", "grass", "feather", "cloth", "wall", "tiles", "gravel", "blur"], default="wood")
    p.add_argument("--width", type=int, default=1600)
    p.add_argument("--height", type=int, default=1200)
    p.add_argument("--digit", type=float, default=0.07, help="height of the digits as a part of the picture's")
    p.add_argument("--roll", type=float, default=0.0, help="degrees, clockwise")
    p.add_argument("--hard", type=float, default=0.5)
    p.add_argument("--quality", type=int, default=85)
    args = p.parse_args()
    save(picture(args), args.out, args.taken, args.quality)


if __name__ == "__main__":
    main()
