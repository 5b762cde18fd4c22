"""Writes numbers.tsv.gz and decimals.tsv: numbers in words, said by two reference libraries, for the spoken-number reader.

    pip install num2words==0.5.14 inflect==7.6.0 && python make_numbers.py

Each line is `number<TAB>words<TAB>style`. Styles: `and` num2words (en_GB) as it stands, with "and", hyphens and commas; `plain`
the same with hyphens and commas taken out, as a speech model writes it; `no-and` inflect without "and" (American); `year`
num2words as a year, which is how weights are said ("nine forty-two", "eleven twenty"); `pairs` inflect in groups of two with
"oh" for nought; `digits` inflect in groups of one. A wording that two styles share is listed once. num2words is LGPL, inflect
MIT; neither is part of the program, only the words they say are kept here.
"""

import gzip
import sys
from pathlib import Path

import inflect
from num2words import num2words

HERE = Path(__file__).resolve().parent
ENGINE = inflect.engine()


def plain(words):
    return " ".join(words.replace("-", " ").replace(",", " ").split())


def styles(n):
    british = num2words(n, lang="en_GB")
    yield british, "and"
    yield plain(british), "plain"
    yield ENGINE.number_to_words(n, andword="").replace(",", ""), "no-and"
    if n >= 100:
        yield num2words(n, to="year"), "year"
        if n % 100:
            # Groups of two of a whole hundred end in "oh oh", which nobody says.
            yield plain(ENGINE.number_to_words(n, group=2, zero="oh", comma="")), "pairs"
        yield plain(ENGINE.number_to_words(n, group=1, zero="oh", comma="")), "digits"


def rows():
    for n in range(10000):
        seen = set()
        for words, style in styles(n):
            if words not in seen:
                seen.add(words)
                yield f"{n}\t{words}\t{style}\n"


def decimals():
    for tenths in range(201, 3000, 7):
        n = tenths / 10
        if tenths % 10:
            yield f"{n}\t{num2words(n, lang='en_GB')}\tand\n"
            whole, tenth = divmod(tenths, 10)
            if whole >= 100:
                yield f"{n}\t{num2words(whole, to='year')} point {num2words(tenth)}\tyear\n"


def main():
    with open(HERE / "numbers.tsv.gz", "wb") as f, gzip.GzipFile(fileobj=f, mode="wb", mtime=0, compresslevel=9) as z:
        z.write("".join(rows()).encode())
    (HERE / "decimals.tsv").write_text("".join(decimals()))
    print("wrote numbers.tsv.gz and decimals.tsv", file=sys.stderr)


if __name__ == "__main__":
    main()
