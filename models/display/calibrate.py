"""Fits the reader's confidence to how often it is right, and shows how well the fit holds where it was not made.

    python held_out.py FOLDER --count 900
    cargo run --release -p display --example score -- FOLDER/manifest.jsonl --all --csv rendered.csv
    cargo run --release -p display --example score -- ../shared/displays/manifest.jsonl --all --csv real.csv
    python calibrate.py rendered.csv --photos real.csv

The fit is made on every second rendered photo and on the real photos that are not set aside (of each three, the first
two); the tables are of the others. Prints the numbers for `WEIGHTS` in `display/src/trust.rs`.
"""

import argparse
import csv

import numpy as np

# Where the fit starts and is drawn back to: the plain product of what the networks say.
PRIOR = np.array([0, 1, 1, 0.5, 0, -0.7, -0.7, 0, 0, 0, 0.0])
NAMES = ["offset", "text", "digits", "main", "several lines", "colon", "rows left out", "another row", "turned", "one character", "small"]
STEPS = (0, 0.2, 0.5, 0.7, 0.8, 0.9, 0.95, 1.01)


def load(path):
    """Returns (numbers, right, place in the file) of every photo for which a reading was tried."""
    x, y, at = [], [], []
    for i, r in enumerate(csv.reader(open(path))):
        # Where a reading was withheld though there was one, nobody knows whether it would have been right.
        if len(r) >= 17 and r[7] and (r[2] or not r[1]):
            x.append([1.0, *map(float, r[7:17])])
            y.append(r[1] == r[2] != "")
            at.append(i)
    return np.array(x), np.array(y, float), np.array(at)


def fit(x, y, weight, pull):
    """Logistic regression drawn to `PRIOR`; what speaks for a reading may not come to speak against it."""
    lo = np.array([-9, 0.2, 0.2, 0.1, -3, -3, -3, -3, -3, -4, 0])
    hi = np.array([9, 3, 3, 3, 0, 0, 0, 0, 0, 0, 2.0])
    b = PRIOR.copy()
    for _ in range(4000):
        q = 1 / (1 + np.exp(-x @ b))
        g = x.T @ (weight * (y - q)) - pull * (b - PRIOR) * np.array([0.1, *[1] * 10])
        b = np.clip(b + 0.5 * g / weight.sum(), lo, hi)
    return b


def table(name, said, right):
    print(f"\n{name}: {len(right)} readings, {right.mean():.3f} right, mean confidence {said.mean():.3f}, Brier {np.mean((said - right) ** 2):.4f}")
    for lo, hi in zip(STEPS, STEPS[1:]):
        k = (said >= lo) & (said < hi)
        if k.any():
            print(f"  {lo:.2f} to {min(hi, 1):.2f}: {int(right[k].sum()):3d} right of {int(k.sum()):3d} ({right[k].mean():.3f}), mean confidence {said[k].mean():.3f}")
    k = said >= 0.9
    print(f"  0.90 and above: {int(right[k].sum())} right of {int(k.sum())}")


def main():
    p = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    p.add_argument("rendered")
    p.add_argument("--photos", help="scores of real photos")
    p.add_argument("--photo-weight", type=float, default=2.0, help="a real photo counts as so many rendered ones")
    p.add_argument("--pull", type=float, default=3.0, help="how strongly the fit is drawn to the plain product")
    args = p.parse_args()
    x, y, at = load(args.rendered)
    use = at % 2 == 0
    fx, fy, fw = x[use], y[use], np.ones(use.sum())
    if args.photos:
        rx, ry, rat = load(args.photos)
        seen = rat % 3 != 2
        fx, fy, fw = np.vstack([fx, rx[seen]]), np.concatenate([fy, ry[seen]]), np.concatenate([fw, np.full(seen.sum(), args.photo_weight)])
    b = fit(fx, fy, fw, args.pull)
    print("const WEIGHTS: [f64; 11] = [" + ", ".join(f"{v:.3f}" for v in b) + "];")
    print(dict(zip(NAMES, b.round(3))))
    said = lambda x: 1 / (1 + np.exp(-x @ b))
    table("rendered, not in the fit", said(x[~use]), y[~use])
    if args.photos:
        table("photos, in the fit", said(rx[seen]), ry[seen])
        table("photos set aside, not in the fit", said(rx[~seen]), ry[~seen])


if __name__ == "__main__":
    main()
