# The programs that some tests drive. Sourced by tests/run, after seed/bootstrap.sh.
# Where one is missing and may not be installed, the tests that need it skip and name it.

need_programs() {
    missing=
    [ -n "$(postgresql_programs)" ] || missing="$missing postgresql"
    command -v chromium >/dev/null || missing="$missing chromium"
    command -v pdftoppm >/dev/null || missing="$missing poppler-utils"
    command -v qpdf >/dev/null || missing="$missing qpdf"
    command -v mutool >/dev/null || missing="$missing mupdf-tools"
    # veraPDF: tests/setup/validator.py.
    command -v javac >/dev/null || missing="$missing default-jdk-headless"
    [ -f /usr/share/java/jaxb-runtime.jar ] || missing="$missing libjaxb-java"
    [ -n "$missing" ] || return 0
    if may_use_apt; then
        # Unquoted on purpose: several names.
        # shellcheck disable=SC2086
        apt_install $missing || say "apt-get failed."
    else
        say "Not installed, so some tests will skip:$missing"
    fi
}
