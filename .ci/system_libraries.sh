# Sourced by run and versions: what a bare Debian lacks of the libraries that the window needs, and of venv.
as_root_install() {
    apt-get update -qq
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq --no-install-recommends "$@" >/dev/null
}
if [ "$(id -u)" = 0 ] && command -v apt-get >/dev/null; then
    for library in libEGL.so.1 libGL.so.1 libxkbcommon.so.0 libdbus-1.so.3 libfontconfig.so.1 libglib-2.0.so.0; do
        if ! ldconfig -p | grep -qF "$library"; then
            as_root_install libegl1 libgl1 libxkbcommon0 libdbus-1-3 libfontconfig1 libglib2.0-0
            break
        fi
    done
    python3 -c 'import ensurepip' 2>/dev/null || as_root_install python3-venv
fi
