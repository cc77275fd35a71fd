# shellcheck shell=bash disable=SC2154
# The whole program: what an installer does from the demonstration to the handover.

the_demonstration() {
    echo "== the demonstration"
    local began
    began=$(date +%s%N)
    skimgauge --version > /dev/null
    echo "starts in $((($(date +%s%N) - began) / 1000000)) ms (--version, under Wine)"
    tries "the demonstration ends within" 0 "within" demo --plain --quick --record demo.sqlite
    tries "its record is whole" 0 "" jobs verify demo.sqlite
    tries "its record names the job" 0 "practice wall" jobs --record demo.sqlite list
    tries "its record shows the takes" 0 "top left" jobs --record demo.sqlite show "practice wall"
    [ -z "$(find . -name '*.at-work' -o -name '*.part')" ] && ok "nothing is left beside it" || wrong "left beside it: $(ls)"
}

the_steps() {
    echo "== the steps of a job"
    local before
    tries "a job file is begun" 0 "" jobs new new.toml --name "reading room" --client "Larch Lane Library" --place "north wall" --by "R. Oakes"
    # A person would now take the # away from the sections that the job needs; and Windows' editor ends lines in its own way.
    # What the sections leave open is filled in, as a person would.
    sed -i -e '/^#\[room\]/,$ {
        s/^#\([[a-z]\)/\1/
        s/^plate = ""/plate = "centre plate"/; s/^anchor = ""/anchor = "A"/; s/^held = ""/held = "60 s"/; s/^slip = ""/slip = "0.1 mm"/
        s/^\(tension\|shear\|load\) = ""/\1 = "1.5 kN"/; s/= ""/= "as filled in"/
    }' -e 's/$/\r/' new.toml
    answers "set-out" setout --job new.toml --record new.sqlite --svg wall.svg
    grep -q '</svg>' wall.svg && ok "with its drawing" || wrong "no drawing"
    answers "fixings" fixings --job new.toml --record new.sqlite
    answers "square" square --job new.toml --record new.sqlite
    tries "the next step is named" 3 "skimgauge" next --job new.toml --record new.sqlite
    printf 'station,x_mm,y_mm,gap_mm\r\ntop left,-950,0,5.9\r\ntop right,950,0,1.0\r\nbottom,0,-1265,5.5\r\n' > readings.csv
    answers "a trim from a table as Windows writes it" trim --job board.toml --from readings.csv
    tries "a touch proof is practised" 0 "" prove --job board.toml --tool rod --practice well
    tries "the handover" 0 "" handover --job "practice wall" --record demo.sqlite --out page.html
    grep -q '</html>' page.html && ok "it is whole" || wrong "the handover is cut"
    before=$(sha256sum page.html)
    tries "it is not written over" 2 "page.html is there already" handover --job "practice wall" --record demo.sqlite --out page.html
    tries "nor by another way of writing its name" 2 "is there already" handover --job "practice wall" --record demo.sqlite --out 'C:\JOBS\.\PAGE.HTML'
    [ "$(sha256sum page.html)" = "$before" ] && ok "it stands as it was" || wrong "it was changed"
    tries "where it is asked for it is" 0 "" handover --job "practice wall" --record demo.sqlite --out page.html --replace --units inch
    [ "$(sha256sum page.html)" != "$before" ] && grep -q '</html>' page.html && ok "anew and whole" || wrong "not written anew"
    tries "the record is spared" 2 "is the record" handover --job "practice wall" --record demo.sqlite --out DEMO.sqlite --replace
    tries "the handover as PDF" 0 "" handover --job "practice wall" --record demo.sqlite --out page.pdf --pdf
    [ "$(head -c 5 page.pdf)" = "%PDF-" ] && ok "it is a PDF" || wrong "it is no PDF"
    tries "a job is exported" 0 "" jobs --record demo.sqlite export "practice wall" out.job
    tries "and read in elsewhere" 0 "" jobs --record other.sqlite import out.job
    tries "without --record it lies in the account's own folder" 0 "" jobs import out.job
    find "$WINEPREFIX/drive_c/users" -path '*AppData/Roaming/skimgauge/record.sqlite' | grep -q . && ok "which is AppData\\Roaming" || wrong "it lies elsewhere"
}

odd_places() {
    echo "== odd places"
    local out
    mkdir -p "Büro Süd" "$work/server"
    for out in 'Büro Süd\Übergabe 1.html' 'C:\jobs\Büro Süd\2.html' 'c:3.html' '\jobs\4.html' '\\?\C:\jobs\5.html' '../jobs/6.html'; do
        tries "onto $out" 0 "" handover --job "practice wall" --record demo.sqlite --out "$out"
    done
    [ "$(find . -name '*.html' | wc -l)" = 7 ] && ok "each where it was wanted" || wrong "the pages are $(find . -name '*.html')"
    for out in CON nul.html 'x\aux' 'LPT1.pdf' '\\.\COM5' 'page.' 'page ' 'page.html:x' 'a?b'; do
        tries "not onto $out" 2 "" handover --job "practice wall" --record demo.sqlite --out "$out" --replace
    done
    tries "a job file that is a device" 2 "a device" next --job aux.toml --record demo.sqlite
    tries "a share that is not there" 2 "no-such-server" handover --job "practice wall" --record demo.sqlite --out '\\no-such-server\share\page.html'
}

the_page() {
    echo "== the live page"
    skimgauge demo --plain --page --record page.sqlite > page.txt 2>&1 < /dev/null &
    local run=$! address
    background+=("$run")
    if ! within 120 grep -qo 'http://127.0.0.1:[0-9]*[^ ]*' page.txt; then
        wrong "it names no address: $(cat page.txt)"
        return
    fi
    address=$(grep -o 'http://127.0.0.1:[0-9]*[^ ]*' page.txt | head -n 1)
    curl --silent --max-time 20 --location "$address" > got.html
    grep -qi '<!doctype html>' got.html && ok "it answers at $address" || wrong "it answers with $(head -c 300 got.html)"
    is_ended
}
