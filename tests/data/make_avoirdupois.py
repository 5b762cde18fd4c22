"""Writes avoirdupois.tsv: exact grams of pounds and ounces in eighths, from the defined pound.

Source: NIST Handbook 44, Appendix C, section 4: 1 avoirdupois pound is 453.592 37 grams exactly, 1 avoirdupois ounce
28.349 523 125 grams exactly, 1 foot 0.3048 metre, 1 yard 0.9144 metre, 1 mile 1 609.344 metres.
"""

from decimal import ROUND_HALF_UP, Decimal
from pathlib import Path

OUNCE = Decimal("28.349523125")
POUND = Decimal("453.59237")
assert OUNCE * 16 == POUND


def main():
    lines = ["# NIST Handbook 44, Appendix C: pound 453.59237 g, ounce 28.349523125 g, both exact. Columns: pounds, ounces, grams, grams to 0.1\n"]
    for eighths in range(20, 12 * 128 + 1):
        # Every eighth of an ounce up to a pound, every quarter up to four pounds, whole ounces beyond.
        if eighths > 128 and eighths % 2 or eighths > 512 and eighths % 8:
            continue
        grams = OUNCE * eighths / 8
        pounds, ounces = divmod(Decimal(eighths) / 8, 16)
        tenth = grams.quantize(Decimal("0.1"), ROUND_HALF_UP)
        lines.append(f"{pounds}\t{ounces.normalize():f}\t{grams.normalize():f}\t{tenth}\n")
    (Path(__file__).resolve().parent / "avoirdupois.tsv").write_text("".join(lines))


if __name__ == "__main__":
    main()
