# What ./start and ./check share. Sourced, not run.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

step() { printf '\n== %s\n' "$*" >&2; }
stop() { printf '\n%s\n' "$*" >&2; exit 1; }

have_cargo() {
  if ! command -v cargo >/dev/null && [ -x "$HOME/.cargo/bin/cargo" ]; then PATH="$HOME/.cargo/bin:$PATH"; fi
  command -v cargo >/dev/null || stop "The Rust toolchain is missing. Install Rust 1.92 or newer (rustup), then run this again."
}

# Prints the packages of the given kinds that this machine lacks.
missing_packages() {
  local kind package or command
  while read -r kind package or command; do
    case " $* " in *" $kind "*) ;; *) continue ;; esac
    if [ "${or:-}" = "or:" ] && command -v "$command" >/dev/null; then continue; fi
    [ "$(dpkg-query -W -f='${db:Status-Status}' "$package" 2>/dev/null)" = installed ] || printf '%s ' "$package"
  done < <(grep -v '^#' scripts/packages.txt)
}

# Installs what is missing of the given kinds; says what it does.
install_packages() {
  local missing sudo=""
  command -v dpkg-query >/dev/null || {
    printf 'This is no Debian system: make sure that these are installed, by whatever name: %s\n' \
      "$(grep -v '^#' scripts/packages.txt | awk '{print $2}' | paste -sd' ')" >&2
    return 0
  }
  missing=$(missing_packages "$@")
  if [ -z "$missing" ]; then printf 'All system packages are here.\n' >&2; return 0; fi
  if [ "$(id -u)" != 0 ]; then
    command -v sudo >/dev/null || stop "These system packages are missing, and this is neither root nor sudo: $missing
Ask whoever keeps this machine to run: apt-get install $missing"
    sudo=sudo
  fi
  printf 'Installing: %s\n' "$missing" >&2
  local log; log=$(mktemp)
  # shellcheck disable=SC2086
  if ! { $sudo apt-get -o DPkg::Lock::Timeout=600 update &&
         $sudo env DEBIAN_FRONTEND=noninteractive apt-get -o DPkg::Lock::Timeout=600 install -y --no-install-recommends $missing; } >"$log" 2>&1
  then
    tail -n 15 "$log" >&2
    stop "Some system packages could not be installed; the lines above say why. Mend that, or install them by hand, and run this again: $missing"
  fi
  rm -f "$log"
}
