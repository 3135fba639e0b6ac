# Sourced by demo/run and tests/run: the private environment in .venv.
# Call `environment` for what running needs, `environment tests` for what the tests need too.

say() { printf '%s\n' "$*" >&2; }

find_python() {
  local name
  for name in python3 python3.14 python3.13 python3.12 python3.11; do
    if "$name" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
      command -v "$name"
      return
    fi
  done
  say "No Python 3.11 or newer here; on Debian 12 or Ubuntu 24.04 and newer: sudo apt-get install python3 python3-venv"
  return 1
}

make_venv() {
  local python
  python=$(find_python) || return 1
  if ! "$python" -c 'import ensurepip, venv' 2>/dev/null; then
    say "$python cannot make private environments; run: sudo apt-get install python3-venv"
    return 1
  fi
  say "Making the private environment in .venv (once)."
  "$python" -m venv --clear .venv
}

stamp() { printf '%s\n' "$PWD" "$1"; cat pyproject.toml "$(locked "$1")"; }

# Every package in one version, by its hash: a later release of one cannot break a fresh machine.
locked() { echo "${1:-demo}/packages.lock"; }

install_packages_of() {
  # Python compiles what is imported; to compile all that is installed takes a third of the time
  local pip=(.venv/bin/python -m pip --disable-pip-version-check install --no-compile)
  "${pip[@]}" --require-hashes --requirement "$(locked "$1")" &&
    "${pip[@]}" --no-deps --no-build-isolation --editable .
}

environment() {
  local extras=${1:-} kept
  if ! .venv/bin/python -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; then
    make_venv || return 1
  fi
  for kept in "$extras" tests; do
    if [ -e ".venv/curewatch-stamp-$kept" ] && stamp "$kept" | cmp -s - ".venv/curewatch-stamp-$kept"; then
      return 0
    fi
  done
  say "Installing curewatch and what it needs into .venv."
  if ! install_packages_of "$extras" >.venv/install.log 2>&1; then
    tail -n 20 .venv/install.log >&2
    say "The installation failed; the above and .venv/install.log say why."
    return 1
  fi
  stamp "$extras" >".venv/curewatch-stamp-$extras"
}
