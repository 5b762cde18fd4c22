#!/usr/bin/env python3
"""Write the reference number words that the number reader is checked against.

    pip install num2words==0.5.14 inflect==7.5.0
    python3 reference_numbers.py > ../corpus/numbers/reference.tsv

Columns: style, number, words. Every number from 0 to 9,999 is covered by the `pair` table (the words of
0 to 99 as both libraries give them), from which the test builds the spoken styles; `british`, `american`
(num2words without "and"), `digits` and `twos` (inflect, groups of one and two) are whole strings for every
seventh number, and `point` for tenths of a gram, so that the building is checked too.
Sources: num2words 0.5.14 (LGPL, output only), inflect 7.5.0 (MIT, output only).
"""
import inflect
from num2words import num2words

engine = inflect.engine()
for n in range(100):
    print("pair", n, num2words(n), sep="\t")
for n in range(0, 10000, 7):
    british = num2words(n).replace(",", "")
    print("british", n, british, sep="\t")
    print("american", n, british.replace(" and ", " "), sep="\t")
    print("inflect", n, engine.number_to_words(n).replace(",", ""), sep="\t")
    if n >= 100:
        print("digits", n, engine.number_to_words(n, group=1, zero="oh").replace(",", ""), sep="\t")
for n in range(100, 10000, 31):
    if n % 100 >= 10:
        print("twos", n, (engine.number_to_words(n, group=2) if n >= 1000 else num2words(n // 100) + " " + num2words(n % 100)).replace(",", ""), sep="\t")
for n in range(205, 12000, 97):
    print("point", n / 10, num2words(n / 10).replace(",", ""), sep="\t")
