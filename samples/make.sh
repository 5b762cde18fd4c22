#!/usr/bin/env bash
# Makes the samples anew: JSON, spoken notes, scale photos. Needs Debian's espeak-ng, flite, festival, festvox-us-slt-hts, sox,
# ffmpeg and python3-venv; the photo maker's packages go into a folder of their own that is removed at the end.
set -euo pipefail
cd "$(dirname "$0")"
for tool in espeak-ng flite text2wave sox ffmpeg python3; do
  command -v "$tool" >/dev/null || { echo "samples: $tool is missing. Install: apt-get install espeak-ng flite festival festvox-us-slt-hts sox ffmpeg python3-venv" >&2; exit 1; }
done
venv=$(mktemp -d)
trap 'rm -rf "$venv"' EXIT
python3 -m venv "$venv"
"$venv/bin/pip" install -q numpy opencv-python-headless pillow matplotlib
python3 make.py --sound --photos "$venv/bin/python"
du -sh .
