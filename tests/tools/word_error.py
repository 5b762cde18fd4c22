#!/usr/bin/env python3
"""Word error of what was heard against a reference.

usage: word_error.py REFERENCE.jsonl HEARD.jsonl      (a line for each sound with "id" and "text")

Counting is jiwer's, and both texts first go through the English normaliser of the Whisper paper, which also turns spoken
numbers to figures: `python3 -m pip install jiwer==4.0.0 whisper-normalizer`. A number of four figures is one word then, so
that one wrong figure is one wrong word; the figure for characters shows how near the rest was.
"""
import json
import sys

import jiwer
from whisper_normalizer.english import EnglishTextNormalizer


def read(path):
    with open(path, encoding="utf-8") as lines:
        return {item["id"]: item for item in map(json.loads, lines)}


def main():
    reference, heard = read(sys.argv[1]), read(sys.argv[2])
    plain = EnglishTextNormalizer()
    groups = {}
    for name, item in reference.items():
        if name in heard:
            groups.setdefault(item.get("set", "all"), []).append((plain(item["text"]), plain(heard[name]["text"])))
    if not groups:
        sys.exit("no sound in common")
    if len(groups) > 1:
        groups["all"] = [pair for pairs in groups.values() for pair in pairs]
    for group, pairs in groups.items():
        wanted, got = [a for a, _ in pairs], [b for _, b in pairs]
        words = jiwer.process_words(wanted, got)
        print(f"{group}: {len(pairs)} sounds, word error {100 * words.wer:.1f} % ({words.substitutions} other, "
              f"{words.deletions} missing, {words.insertions} added), character error {100 * jiwer.cer(wanted, got):.1f} %")


if __name__ == "__main__":
    main()
