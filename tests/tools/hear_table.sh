#!/bin/sh
# Makes the table of docs/hearing.md: models and settings on labelled spoken notes, clean and with noise mixed in.
#
#   tests/tools/hear_table.sh [EVERY]      reads every EVERYth note (default 1: all)
#
# Looks for the labelled notes in ../shared (or where VARVEL_SHARED says) and for models where VARVEL_MODELS says.
# Needs ffmpeg and python3. A line for each row: model, setting, noise, scores, cost. Takes hours of processor time when
# all notes are read: start it with nice.
set -eu
cd "$(dirname "$0")/../.."
shared=${VARVEL_SHARED:-../shared}
models=${VARVEL_MODELS:-$HOME/.local/share/varvel/models}
every=${1:-1}
[ -d "$shared/sound/dev" ] || { echo "skipped: no labelled sound in $shared"; exit 0; }
work=${HEAR_TABLE_DIR:-$(mktemp -d)}
mkdir -p "$work"
cargo build --release -q -p speech --example hear_table
cargo build --release -q -p extract --example lines
target=${CARGO_TARGET_DIR:-target}/release/examples

python3 tests/tools/mix_noise.py "$shared" "$work" "$every"
rows=${HEAR_TABLE_ROWS:-"field-q8:names field-q8:names,beam=5 field:names base-q8:stock base-q8:default base:default tiny.en-q8:stock tiny.en-q8:default"}
for row in $rows; do
    model=${row%%:*}; setting=${row#*:}
    for noise in ${HEAR_TABLE_NOISE:-clean 20 10 5}; do
        heard="$work/$model-$setting-$noise.jsonl"
        [ -s "$heard" ] || "$target/hear_table" "$models/$model.bin" "$setting" "$work/$noise.jsonl" > "$heard.part" 2> "$heard.err" && [ ! -f "$heard.part" ] || mv "$heard.part" "$heard"
        python3 tests/tools/hear_row.py "$shared" "$target/lines" "$work/$noise.jsonl" "$heard" "$model" "$setting" "$noise"
    done
done
