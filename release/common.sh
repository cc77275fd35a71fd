# shellcheck shell=bash disable=SC2034
# What every release holds, whatever it is for. Read from the project's folder.
export LC_ALL=C TZ=UTC
target=$(realpath -m "${CARGO_TARGET_DIR:-$PWD/target}")
out=$target/package
uf2=firmware/pico/target/skimgauge-head.uf2
features=pdf
own_version=$(sed -n '/^\[workspace.package\]/,/^\[/ s/^version = "\(.*\)"/\1/p' Cargo.toml)
# Empty where nothing tells when this was made.
epoch=${SOURCE_DATE_EPOCH:-$(git log -1 --format=%ct 2> /dev/null || true)}

# papers INTO PLATFORM: man pages, completions, the rule, notices, the sample job
papers() {
    rm -rf "$1"
    cargo run --quiet --locked --package skimgauge-release -- --into "$1" --day "$(date -d "@$epoch" +%F)" \
        --platform "$2" --features "$features"
}
