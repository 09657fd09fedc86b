# Gives the checkout its own Python with every pinned package. Sourced, never run, by seed/run and
# tests/run, which set `root` (the checkout's absolute path) and then call `set_up seed` or
# `set_up tests`. Everything it says goes to the error stream; the program's own output stays clean.

venv=$root/.venv

say() { printf '%s\n' "$*" >&2; }

stop() {
    say "$*"
    exit 1
}

# --- The system's own packages ---------------------------------------------------------------

on_macos() { [ "$(uname -s)" = Darwin ]; }

# Only root on Debian may have packages installed for them; anybody else is told the command.
may_use_apt() {
    [ -f /etc/debian_version ] && [ "$(id -u)" -eq 0 ] && command -v apt-get >/dev/null
}

apt_install() {
    say "Installing Debian packages: $*"
    # A list that cannot be refreshed is no reason to stop: the install below decides.
    apt-get -qq update </dev/null >&2 || say "apt-get update failed; going on with the lists at hand."
    DEBIAN_FRONTEND=noninteractive apt-get -qq -y -o Dpkg::Use-Pty=0 \
        install --no-install-recommends "$@" </dev/null >/dev/null
}

# Prints the command that gets Debian's packages $1, or Homebrew's $2.
command_for() {
    if on_macos; then
        printf 'brew install %s\n' "$2"
    else
        printf 'sudo apt-get install --no-install-recommends %s\n' "$1"
    fi
}

# --- Python ----------------------------------------------------------------------------------

# Prints the interpreter behind the first command that is new enough. The interpreter itself, since
# the command may lead into a .venv that is about to be removed.
find_python() {
    for candidate in python3 python3.14 python3.13 python3.12 python3.11; do
        "$candidate" -c 'import sys
if sys.version_info < (3, 11): sys.exit(1)
print(sys._base_executable)' 2>/dev/null && return
    done
    return 1
}

choose_python() {
    python=$(find_python) && return
    if may_use_apt; then
        apt_install python3 python3-venv || say "apt-get failed."
        python=$(find_python) && return
    fi
    stop "Chuckkey needs Python 3.11 or newer; get it with: $(command_for 'python3 python3-venv' python)"
}

# uv is quicker than pip, which does the same work where uv is not there or has failed once.
have_uv() { [ -z "${without_uv-}" ] && command -v uv >/dev/null; }

# Debian keeps the part of Python that puts pip into a new .venv in a package of its own.
need_ensurepip() {
    "$python" -c 'import ensurepip' 2>/dev/null && return
    package=$("$python" -c 'import sys; print("python%d.%d-venv" % sys.version_info[:2])')
    if may_use_apt; then
        apt_install "$package" || say "apt-get failed."
        "$python" -c 'import ensurepip' 2>/dev/null && return
    fi
    stop "$python cannot make a .venv; get what it lacks with: $(command_for "$package" python)"
}

# --- .venv -----------------------------------------------------------------------------------

# The stamp is written last, so a .venv without one was interrupted. It names the checkout, since a
# .venv holds absolute paths and does not survive a move, and a checksum of all that went in.
stamp=$venv/set-up-complete
busy=$venv/set-up-by

stamp_for() {
    sum=$(cd "$root" && cat pyproject.toml seed/pins.txt tests/pins.txt seed/bootstrap.sh | cksum)
    printf '%s %s %s\n' "$root" "$sum" "$1"
}

# Fails where the system has gone on to another Python than the one that .venv was made for.
finds_packages() { "$venv/bin/python" -c 'import editables' 2>/dev/null; }

# The list of the tests holds the whole list of the program, so it serves both.
is_set_up() {
    [ -f "$stamp" ] && finds_packages || return 1
    stamped=$(cat "$stamp")
    [ "$stamped" = "$(stamp_for "$1")" ] || [ "$stamped" = "$(stamp_for tests)" ]
}

# Says whether packages can be added to the .venv that is there.
can_be_updated() {
    finds_packages || return 1
    case $(cat "$stamp" 2>/dev/null) in
        "$root "*) have_uv || [ -x "$venv/bin/pip" ] ;;
        *) return 1 ;;
    esac
}

# Two commands started together must not fill one .venv at the same time. The wait has an end, since
# a number left behind by a killed run may have gone to another process (in a container, to this one).
wait_for_another() {
    another=$(cat "$busy" 2>/dev/null) || return 0
    [ "$another" != $$ ] || return 0
    waited=0
    while [ -f "$busy" ] && [ "$waited" -lt 300 ] && kill -0 "$another" 2>/dev/null; do
        [ "$waited" -gt 0 ] || say "Process $another is setting up $venv; waiting up to 5 minutes."
        sleep 1
        waited=$((waited + 1))
    done
}

make_venv() {
    choose_python
    have_uv || need_ensurepip
    say "Making $venv with $python"
    rm -rf "$venv"
    mkdir "$venv"
    echo $$ >"$busy"
    if have_uv; then
        uv venv --quiet --allow-existing --python "$python" "$venv"
    else
        "$python" -m venv "$venv"
    fi
}

install() {
    if have_uv; then
        uv pip install --quiet --python "$venv/bin/python" --compile-bytecode "$@"
    else
        "$venv/bin/python" -m pip install --quiet --no-input --disable-pip-version-check "$@"
    fi
}

# Wheels only: nothing is compiled here, and no package's own set-up script is run.
install_list() { install --only-binary :all: --require-hashes -r "$root/$1/pins.txt"; }

# uv may lack what pip has been told on this machine, such as a certificate or a mirror.
with_pip_instead() {
    have_uv || return
    say "uv could not install them; trying pip."
    without_uv=yes
    make_venv
    install_list "$1"
}

fill_venv() {
    echo $$ >"$busy"
    rm -f "$stamp"
    say "Installing the packages of $1/pins.txt (the first time takes up to a minute)"
    install_list "$1" || with_pip_instead "$1" || stop \
        "The packages did not install. Is the network there? They come ready-made for" \
        "Linux on x86-64 and ARM, and for macOS 15 or newer on Apple silicon."
    install --no-deps --no-build-isolation --no-index -e "$root"
    stamp_for "$1" >"$stamp"
    rm -f "$busy"
}

# --- Libraries that print --------------------------------------------------------------------

# A Python that is not Homebrew's does not look in Homebrew's folders by itself.
find_homebrew_libraries() {
    on_macos || return 0
    for folder in /opt/homebrew/lib /usr/local/lib; do
        [ -d "$folder" ] || continue
        DYLD_FALLBACK_LIBRARY_PATH=${DYLD_FALLBACK_LIBRARY_PATH:+$DYLD_FALLBACK_LIBRARY_PATH:}$folder
        export DYLD_FALLBACK_LIBRARY_PATH
    done
}

# WeasyPrint opens these by name when it is imported, so no Python package can bring them.
libraries_load() {
    "$venv/bin/python" - <<'END'
import ctypes, sys
mac = sys.platform == "darwin"
names = ["gobject-2.0", "pango-1.0", "pangoft2-1.0", "fontconfig", "harfbuzz", "harfbuzz-subset"]
for name in names:
    end = ".dylib" if mac else ".so.1" if name == "fontconfig" else ".so.0"
    try:
        ctypes.CDLL("lib" + name + end)
    except OSError:
        sys.exit(1)
END
}

need_libraries() {
    find_homebrew_libraries
    libraries_load && return
    packages='libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0'
    if may_use_apt; then
        # Unquoted on purpose: three names.
        # shellcheck disable=SC2086
        apt_install $packages || say "apt-get failed."
        libraries_load && return
    fi
    stop "Printing needs Pango and HarfBuzz; get them with: $(command_for "$packages" pango)"
}

# Makes .venv hold the packages of $1/pins.txt and the project itself, and the libraries load.
set_up() {
    wait_for_another
    if ! is_set_up "$1"; then
        can_be_updated || make_venv
        fill_venv "$1"
    fi
    need_libraries
}
