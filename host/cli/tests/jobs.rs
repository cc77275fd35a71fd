//! `skimgauge jobs`, as a person uses it: the whole command, its words and its exit status.

use skimgauge_record::chain::{Hash, Row, link};
use skimgauge_record::{JobId, Record};
use skimgauge_record::{Stamp, When};
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

struct Room(tempfile::TempDir);

impl Room {
    /// A folder with a record of two open jobs.
    fn new() -> Self {
        let room = Self(tempfile::tempdir().unwrap());
        let stamp =
            Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test")
                .unwrap();
        let mut record = Record::create(&room.path().join("r.sqlite")).unwrap();
        record.open_job(JobId([1; 16]), "Hall 3", "site = \"x\"\n", &stamp).unwrap();
        record.open_job(JobId([2; 16]), "Hall 4", "site = \"y\"\n", &stamp).unwrap();
        room
    }

    fn path(&self) -> &Path {
        self.0.path()
    }

    fn run(&self, words: &[&str]) -> Output {
        self.skimgauge(&["jobs"], words)
    }

    fn skimgauge(&self, words: &[&str], more: &[&str]) -> Output {
        // What a command does not take of the second list it is not asked.
        let more = if words[0] == "setout" { &[] } else { more };
        Command::new(env!("CARGO_BIN_EXE_skimgauge"))
            .args(words)
            .args(more)
            .current_dir(self.path())
            .env("USER", "fitter")
            .env("XDG_DATA_HOME", self.path().join("data"))
            .env("APPDATA", self.path().join("data"))
            .output()
            .unwrap()
    }

    /// What it printed, when it ended well.
    fn good(&self, words: &[&str]) -> String {
        let output = self.run(words);
        let (out, err) = (text(&output.stdout), text(&output.stderr));
        assert!(output.status.success(), "{words:?}: {out}{err}");
        out
    }

    /// What it complained of.
    fn refused(&self, words: &[&str]) -> String {
        let output = self.run(words);
        assert_eq!(output.status.code(), Some(2), "{words:?}: {}", text(&output.stdout));
        text(&output.stderr)
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

const SAID: [&str; 8] = [
    "--name",
    "reading room",
    "--client",
    "Larch Lane",
    "--place",
    "north wall",
    "--by",
    "R. Oakes",
];

#[test]
fn a_job_file_to_begin_with_holds_what_was_said_and_is_not_overwritten() {
    let room = Room::new();
    let said = room.good(&[&["new", "board.toml"][..], &SAID].concat());
    assert!(!said.contains("filled in"), "{said}");
    let file = fs::read_to_string(room.path().join("board.toml")).unwrap();
    let job = skimgauge_jobfile::Job::parse("board.toml", &file).unwrap();
    assert_eq!(
        (job.about.name.as_str(), job.about.client.as_deref()),
        ("reading room", Some("Larch Lane"))
    );
    assert!(room.refused(&["new", "board.toml"]).contains("Choose another name"));
}

/// Until a board's own values are in, a person is told where the sample's stand; what nobody named is
/// not a fact of the job.
#[test]
fn what_is_still_the_samples_is_named_with_its_line() {
    let room = Room::new();
    let said = room.good(&[&["new", "board.toml"][..], &SAID].concat());
    let file = fs::read_to_string(room.path().join("board.toml")).unwrap();
    assert_eq!(skimgauge_jobfile::Job::parse("", &file).unwrap().emitter.model, None);
    let line = |begins: &str| 1 + file.lines().position(|line| line == begins).unwrap();
    let (image, band) = (line("[image]"), line("[band]"));
    assert!(
        said.contains(&format!("[image] (line {image})")) && said.contains("a sample"),
        "{said}"
    );
    let next = |json: &[&str]| {
        let words = [&["next", "--job", "board.toml", "--record=r.sqlite"], json].concat();
        let told = text(&room.skimgauge(&words, &[]).stdout);
        told.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let both = format!("[image] (line {image})");
    assert!(next(&[]).contains(&format!("As in the sample that `jobs new` writes: {both}")));
    assert!(next(&["--json"]).contains(&format!("\"as_in_sample\": \"{both}")));
    let own = file.replace("94 in", "88 in");
    fs::write(room.path().join("board.toml"), own).unwrap();
    let told = next(&[]);
    assert!(!told.contains("[image] (line"), "{told}");
    assert!(told.contains(&format!("[band] (line {band})")), "{told}");
}

/// The command that it names can be typed as it stands.
#[test]
fn the_next_command_is_quoted_for_the_shell() {
    let room = Room::new();
    let said = room.good(&[&["new", "my board.toml"][..], &SAID].concat());
    assert!(said.contains("`skimgauge next --job \"my board.toml\"`"), "{said}");
    if cfg!(unix) {
        let said = room.good(&[&["new", "--", "-odd\\$HOME.toml"][..]].concat());
        assert!(said.contains("`skimgauge next --job './-odd\\$HOME.toml'`"), "{said}");
    }
}

#[test]
fn whoever_the_job_names_adds_to_it_where_nobody_is_said() {
    let room = Room::new();
    let stamp = Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test");
    let mut record = Record::open(&room.path().join("r.sqlite")).unwrap();
    let job = skimgauge_jobfile::demo_job();
    record.open_job(JobId([3; 16]), "practice wall", job, &stamp.unwrap()).unwrap();
    drop(record);
    let noted =
        room.good(&["note", "practice wall", "done", "--by", "B. Fitter", "--record=r.sqlite"]);
    assert!(noted.contains("by B. Fitter"), "{noted}");
    let closed = room.good(&["close", "practice wall", "--record=r.sqlite"]);
    assert!(closed.contains("Closed \"practice wall\" by R. Oakes, with hash "), "{closed}");
    let shown = room.good(&["show", "practice wall", "--record=r.sqlite"]);
    assert!(shown.contains("R. Oakes") && !shown.contains("fitter"), "{shown}");
}

/// Nobody is asked where nobody sits; nothing is invented; every command that needs the job says
/// which lines are open.
#[test]
fn what_nobody_said_is_left_open_and_refused_with_its_line() {
    let room = Room::new();
    let said = room.good(&["new", "board.toml", "--client", "Larch Lane", "--place", " "]);
    let file = fs::read_to_string(room.path().join("board.toml")).unwrap();
    let line = |key: &str| 1 + file.lines().position(|line| line.starts_with(key)).unwrap();
    for key in ["name", "place", "by"] {
        assert!(said.contains(&format!("{key} (line {})", line(key))), "{key}: {said}");
        assert!(file.contains(&format!("{key} = \"\"")), "{file}");
    }
    assert!(!said.contains("client (line"), "{said}");
    for invented in ["Larch Lane Library", "R. Oakes", "reading room"] {
        assert!(!file.contains(&format!("\"{invented}\"")), "{invented} is in a real job");
    }
    for command in ["watch", "trim", "setout"] {
        let output = room.skimgauge(
            &[command, "--job", "board.toml", "--record", "new.sqlite"],
            &["--head", "/dev/null"],
        );
        let err = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{err}");
        assert!(
            err.contains(&format!("board.toml, line {}", line("by")))
                && err.contains("not filled in yet"),
            "{err}"
        );
        assert!(!room.path().join("new.sqlite").exists());
    }
    let refused = room.refused(&["new", "other.toml", "--name", "a/b"]);
    assert!(refused.contains('/') && !room.path().join("other.toml").exists(), "{refused}");
}

#[test]
fn a_job_is_noted_shown_closed_and_carried_elsewhere() {
    let room = Room::new();
    let record = "--record=r.sqlite";
    room.good(&["note", "Hall 3", "left anchor torqued", "--by", "B. Fitter", record]);
    assert!(
        room.refused(&["note", "Hall 3", "left\u{1b}[2J", record]).contains("steers the screen")
    );
    fs::write(room.path().join("wall.jpg"), [0xff, 0xd8, 1]).unwrap();
    room.good(&["attach", "Hall 3", "wall.jpg", "--caption", "anchor", record]);
    let closed = room.good(&["close", "Hall 3", "--open-point", "cover plate", record]);
    // Whoever the job file names, where nobody else is said.
    assert!(closed.contains("Closed \"Hall 3\" by "), "{closed}");
    let shown = room.good(&["show", "Hall 3", record]);
    for words in ["closed", "left anchor", "B. Fitter", "wall.jpg", "left to do: cover plate"] {
        assert!(shown.contains(words), "{words} in {shown}");
    }
    let listed = room.good(&["list", record]);
    assert!(
        listed.contains("2026-11-25 09:14 +01:00"),
        "apart from UTC, as `show` has it: {listed}"
    );
    assert!(
        listed.lines().any(|line| line.starts_with("Hall 3") && line.ends_with("closed")),
        "{listed}"
    );

    room.good(&["export", "Hall 3", "hall.job", record]);
    room.good(&["export", "Hall 3", "hall.json", record]);
    room.good(&["export", "Hall 3", "takes.csv", record]);
    assert!(
        room.refused(&["export", "Hall 3", "hall.json", record]).contains("Choose another name")
    );
    assert!(room.good(&["verify", "hall.job"]).contains("Every link holds"));
    assert!(room.good(&["import", "hall.job", "--record=new/other.sqlite"]).contains("4 events"));
    assert!(
        room.good(&["import", "hall.job", "--record=new/other.sqlite"]).contains("here already")
    );
    let json: serde_json::Value =
        serde_json::from_str(&room.good(&["show", "Hall 3", "--as", "json", record])).unwrap();
    let file: serde_json::Value =
        serde_json::from_str(&fs::read_to_string(room.path().join("hall.json")).unwrap()).unwrap();
    assert_eq!(json, file);
    let line: serde_json::Value =
        serde_json::from_str(room.good(&["list", "--json", "--record=new/other.sqlite"]).trim())
            .unwrap();
    assert_eq!(
        (&line["schema"], &line["name"], &line["closed"]),
        (&1.into(), &"Hall 3".into(), &true.into())
    );
}

#[test]
fn a_damaged_record_is_named_and_what_holds_is_saved() {
    let room = Room::new();
    room.good(&["note", "Hall 3", "left anchor torqued", "--record=r.sqlite"]);
    let path = room.path().join("r.sqlite");
    let mut bytes = fs::read(&path).unwrap();
    let places: Vec<usize> =
        (0..bytes.len()).filter(|&at| bytes[at..].starts_with(b"torqued")).collect();
    assert!(!places.is_empty());
    places.iter().for_each(|&place| bytes[place] = b'T');
    fs::write(&path, bytes).unwrap();

    let output = room.run(&["verify", "r.sqlite"]);
    assert_eq!(output.status.code(), Some(1));
    assert!(
        text(&output.stdout).contains("\"Hall 3\": BROKEN at event 2"),
        "{}",
        text(&output.stdout)
    );
    let output = room.run(&["verify", "r.sqlite", "--json"]);
    assert_eq!(output.status.code(), Some(1));
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(
        (&report["sound"], &report["report"]["jobs"][0]["broken"]["seq"]),
        (&false.into(), &2.into())
    );
    let shown = room.run(&["show", "Hall 3", "--record=r.sqlite"]);
    assert_eq!(shown.status.code(), Some(1), "as handover ends");
    assert!(text(&shown.stdout).contains("BROKEN at event 2"));
    let listed = room.good(&["list", "--record=r.sqlite"]);
    assert!(
        listed
            .lines()
            .any(|line| line.starts_with("Hall 3") && line.ends_with("BROKEN at event 2")),
        "{listed}"
    );
    assert!(
        listed.lines().any(|line| line.starts_with("Hall 4") && line.ends_with("open")),
        "{listed}"
    );
    assert!(
        room.refused(&["export", "Hall 3", "x.job", "--record=r.sqlite"])
            .contains("breaks at event 2")
    );
    let saved = room.good(&["export", "--salvage", "saved.sqlite", "--record=r.sqlite"]);
    assert!(
        saved.contains("breaks at event 2") && saved.contains("Left behind: 1 event"),
        "{saved}"
    );
    assert!(room.good(&["verify", "saved.sqlite"]).contains("Every link holds"));
}

#[test]
fn what_cannot_be_done_is_said_in_a_sentence() {
    let room = Room::new();
    fs::write(room.path().join("x.txt"), "a shopping list").unwrap();
    for (words, says) in [
        (&["show", "hall 3", "--record=r.sqlite"][..], "Did you mean \"Hall 3\"?"),
        (&["show", "Hall 3", "--record=none.sqlite"], "There is no record"),
        (&["list", "--record=x.txt"], "not a skimgauge record"),
        (&["verify", "x.txt"], "not a skimgauge record"),
        (&["import", "x.txt", "--record=r.sqlite"], "not a skimgauge record"),
        (&["attach", "Hall 3", "none.jpg", "--record=r.sqlite"], "none.jpg cannot be read"),
        (&["close", "Hall 3", "--sign", "x.txt", "--record=r.sqlite"], "no OpenSSH private key"),
        (&["note", "Hall 3", "x", "--by", " ", "--record=r.sqlite"], "the name of the person"),
        (&["export", "Hall 3", "--record=r.sqlite"], "2 values"),
    ] {
        let said = room.refused(words);
        assert!(said.contains(says), "{words:?}: {said}");
    }
}

/// A record with one closed job, its key pair beside it; the fingerprint of the key and of the job.
fn signed(room: &Room) -> String {
    use ssh_key::private::{Ed25519Keypair, KeypairData};
    let key = ssh_key::PrivateKey::new(
        KeypairData::Ed25519(Ed25519Keypair::from_seed(&[42; 32])),
        "A. Fitter",
    )
    .unwrap();
    for (name, text) in [
        ("id", key.to_openssh(ssh_key::LineEnding::LF).unwrap().to_string()),
        ("id.pub", key.public_key().to_openssh().unwrap()),
    ] {
        fs::write(room.path().join(name), text).unwrap();
    }
    let other =
        ssh_key::PrivateKey::new(KeypairData::Ed25519(Ed25519Keypair::from_seed(&[43; 32])), "")
            .unwrap();
    fs::write(room.path().join("other.pub"), other.public_key().to_openssh().unwrap()).unwrap();
    set_mode(&room.path().join("id"), 0o600);
    room.good(&["close", "Hall 3", "--sign", "id", "--record=r.sqlite"]);
    room.good(&["export", "Hall 3", "hall.job", "--record=r.sqlite"]);
    let history =
        Record::open_read_only(&room.path().join("hall.job")).unwrap().job("Hall 3").unwrap();
    history.summary.head_hash.to_string()
}

#[cfg(unix)]
fn set_mode(path: &Path, mode: u32) {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
}

#[cfg(not(unix))]
fn set_mode(_: &Path, _: u32) {}

impl Room {
    fn verify(&self, words: &[&str]) -> (Option<i32>, String) {
        let output = self.run(&[&["verify"][..], words].concat());
        (output.status.code(), text(&output.stdout) + &text(&output.stderr))
    }
}

#[test]
fn verify_says_what_it_can_know_and_no_more() {
    let room = Room::new();
    let hash = signed(&room);
    let near = format!("{}{}", &hash[..63], if hash.ends_with('0') { '1' } else { '0' });
    let other = "0".repeat(64);
    let spaced: String = hash
        .as_bytes()
        .chunks(8)
        .map(|part| format!("{} ", std::str::from_utf8(part).unwrap()))
        .collect();
    // What is asked, the exit status, what is said.
    for (words, status, says) in [
        (&["hall.job"][..], 0, "not who that is"),
        (&["hall.job", "--key", "id.pub"], 0, "Every link holds"),
        (&["hall.job", "--key", "other.pub"], 1, "NOT signed with that key"),
        (&["hall.job", "--fingerprint", &hash], 0, "unchanged"),
        (&["hall.job", "--fingerprint", &spaced], 0, "unchanged"),
        (&["hall.job", "--fingerprint", &hash, "--key", "id.pub"], 0, "unchanged"),
        (&["hall.job", "--fingerprint", &near], 1, "NO job here has that fingerprint"),
        (&["hall.job", "--fingerprint", &other, "--key", "id.pub"], 1, "NO job here"),
        (&["hall.job", "--fingerprint", "abc"], 2, "64 digits"),
        // The whole record has an open job besides, which nobody signed.
        (&["r.sqlite"], 0, "written it anew"),
        (&["r.sqlite", "--key", "id.pub"], 1, "\"Hall 4\": still open, and NOT signed"),
        (&["r.sqlite", "--key", "id.pub", "--fingerprint", &hash], 0, "unchanged"),
        (&["none.sqlite"], 2, "no record"),
        (&["hall.job", "--key", "none.pub"], 2, "cannot be read"),
    ] {
        let (code, said) = room.verify(words);
        assert_eq!(code, Some(status), "{words:?}: {said}");
        assert!(said.contains(says), "{words:?}: {said}");
    }
    let (_, said) = room.verify(&["r.sqlite"]);
    assert!(said.contains("\"Hall 4\"") && said.contains("--fingerprint HASH"), "{said}");
    let (_, json) = room.verify(&["hall.job", "--fingerprint", &hash, "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!((&json["sound"], &json["fingerprint"]["job"]), (&true.into(), &"Hall 3".into()));
}

/// A job rewritten with fresh hashes, one with its end cut off, a signed one opened again: the file
/// alone cannot tell, and what was asked for does.
#[test]
fn a_job_written_anew_passes_no_fingerprint_and_no_key() {
    let room = Room::new();
    room.good(&["note", "Hall 3", "gap 3.2", "--record=r.sqlite"]);
    room.good(&["note", "Hall 3", "left to do: plate", "--record=r.sqlite"]);
    let hash = signed(&room);
    // Anew, as anyone can with this very program.
    let mut anew = Record::create(&room.path().join("anew.sqlite")).unwrap();
    let stamp =
        Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test").unwrap();
    anew.open_job(JobId([1; 16]), "Hall 3", "site = \"x\"\n", &stamp).unwrap();
    anew.note("Hall 3", &stamp, "gap 2.1").unwrap();
    drop(anew);
    let (code, said) = room.verify(&["anew.sqlite"]);
    assert_eq!(code, Some(0));
    assert!(said.contains("written it anew") && said.contains("--fingerprint"), "{said}");
    for asked in [["--fingerprint", hash.as_str()], ["--key", "id.pub"]] {
        let (code, said) = room.verify(&[&["anew.sqlite"][..], &asked].concat());
        assert_eq!(code, Some(1), "{said}");
    }
    // A page that was made before more was added still holds for what it shows.
    let job = Record::open_read_only(&room.path().join("hall.job")).unwrap().job("Hall 3").unwrap();
    let earlier = job.events[1].hash.to_string();
    let (code, said) = room.verify(&["hall.job", "--fingerprint", &earlier]);
    assert_eq!(code, Some(0), "{said}");
    assert!(said.contains(&format!("{} entries were added since", job.events.len() - 2)), "{said}");
}

/// Cut short with its last events, or with a whole job gone, the row of the job made to fit.
/// A file that broke off can neither be checked nor saved from: neither command sends to itself.
#[test]
fn a_file_that_broke_off_is_told_what_else_there_is() {
    let room = Room::new();
    let whole = fs::read(room.path().join("r.sqlite")).unwrap();
    fs::write(room.path().join("cut.sqlite"), &whole[..whole.len() / 2]).unwrap();
    let verified = room.refused(&["verify", "cut.sqlite"]);
    assert!(!verified.contains("jobs verify") && verified.contains("--salvage"), "{verified}");
    let saved =
        room.refused(&["export", "--salvage", "new.sqlite", "--by=me", "--record=cut.sqlite"]);
    assert!(!saved.contains("--salvage") && !saved.contains("jobs verify"), "{saved}");
    for says in [verified, saved] {
        assert!(says.contains("made anew") && says.contains("skimgauge jobs import"), "{says}");
    }
}

#[test]
fn a_record_cut_short_passes_no_fingerprint() {
    let room = Room::new();
    room.good(&["note", "Hall 3", "left anchor torqued", "--record=r.sqlite"]);
    let whole =
        Record::open_read_only(&room.path().join("r.sqlite")).unwrap().job("Hall 3").unwrap();
    let mut cut = Record::create(&room.path().join("cut.sqlite")).unwrap();
    let stamp =
        Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), "A. Fitter", "test").unwrap();
    // The same first event, the same identity: what the chain before the cut was.
    cut.open_job(JobId([1; 16]), "Hall 3", "site = \"x\"\n", &stamp).unwrap();
    assert_eq!(cut.job("Hall 3").unwrap().events[0].hash, whole.events[0].hash);
    drop(cut);
    let (code, said) =
        room.verify(&["cut.sqlite", "--fingerprint", &whole.summary.head_hash.to_string()]);
    assert_eq!(code, Some(1), "{said}");
    let (code, said) = room.verify(&["cut.sqlite"]);
    assert!(code == Some(0) && said.contains("cut off its last entries"), "{said}");
}

#[cfg(unix)]
#[test]
fn a_private_key_that_others_may_read_is_refused() {
    let room = Room::new();
    signed(&room);
    for mode in [0o644, 0o640, 0o604, 0o620, 0o601] {
        set_mode(&room.path().join("id"), mode);
        let said = room.refused(&["close", "Hall 4", "--sign", "id", "--record=r.sqlite"]);
        assert!(
            said.contains("may be read or changed by others") && said.contains("chmod 600 id"),
            "{said}"
        );
    }
    assert!(
        !Record::open(&room.path().join("r.sqlite")).unwrap().job("Hall 4").unwrap().summary.closed
    );
    for mode in [0o600, 0o400] {
        set_mode(&room.path().join("id"), mode);
        room.good(&["close", "Hall 3", "--sign", "id", "--record=r.sqlite"]);
    }
    fs::write(room.path().join("words"), "ladder\n").unwrap();
    set_mode(&room.path().join("words"), 0o644);
    let said = room.refused(&[
        "close",
        "Hall 4",
        "--sign",
        "id",
        "--passphrase-file",
        "words",
        "--record=r.sqlite",
    ]);
    assert!(said.contains("words may be read"), "{said}");
}

#[cfg(unix)]
#[test]
fn the_programs_own_folder_is_its_owners_alone() {
    use std::os::unix::fs::PermissionsExt;
    let room = Room::new();
    let mode =
        |path: &str| fs::metadata(room.path().join(path)).unwrap().permissions().mode() & 0o777;
    room.good(&["export", "Hall 3", "hall.job", "--record=r.sqlite"]);
    let before = mode(".");
    room.good(&["import", "hall.job"]);
    assert_eq!((mode("data/skimgauge"), mode("data/skimgauge/record.sqlite")), (0o700, 0o600));
    // One that an earlier version left open is closed; one that the user named is not touched.
    set_mode(&room.path().join("data/skimgauge"), 0o755);
    room.good(&["import", "hall.job"]);
    fs::create_dir(room.path().join("mine")).unwrap();
    set_mode(&room.path().join("mine"), 0o775);
    room.good(&["import", "hall.job", "--record=mine/r.sqlite"]);
    assert_eq!(
        (mode("data/skimgauge"), mode("mine"), mode("mine/r.sqlite"), mode(".")),
        (0o700, 0o775, 0o600, before)
    );
}

const LATER: &str = "2026-11-25T10:00:00+01:00";

/// Appends an event to the first job past every rule of this program, hash and all.
fn forge(path: &Path, row: Row<'_>) {
    let connection = rusqlite::Connection::open(path).unwrap();
    let before: Vec<u8> = connection
        .query_row("SELECT last_hash FROM job WHERE job_id = 1", [], |found| found.get(0))
        .unwrap();
    let hash = link(&[Hash(before.clone().try_into().unwrap())], row);
    let columns = (
        1,
        row.seq,
        row.at,
        row.who,
        row.software,
        row.kind,
        row.version,
        row.payload,
        2,
        &before,
        hash,
    );
    connection
        .execute("INSERT INTO event VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)", columns)
        .unwrap();
    connection
        .execute(
            "UPDATE job SET last_seq = ?1, last_hash = ?2, last_at = ?3 WHERE job_id = 1",
            (row.seq, hash, row.at),
        )
        .unwrap();
}

/// An event of a kind that only a newer program knows: every command says so, and none guesses.
#[test]
fn what_a_newer_program_wrote_is_shown_as_such_and_carried() {
    let room = Room::new();
    let payload = "{ \"depth_mm\":12 }";
    let row = Row {
        seq: 2,
        at: LATER,
        who: "N. Newer",
        software: "skimgauge 9",
        kind: "plumbed",
        version: 1,
        payload,
    };
    forge(&room.path().join("r.sqlite"), row);
    let record = "--record=r.sqlite";
    let listed = room.good(&["list", record]);
    assert!(
        listed
            .lines()
            .any(|line| line.starts_with("Hall 3") && line.ends_with("by a newer version")),
        "{listed}"
    );
    let shown = room.good(&["show", "Hall 3", record]);
    assert!(
        shown.contains("\"plumbed\": written by a newer program")
            && shown.contains("Update skimgauge"),
        "{shown}"
    );
    let (code, said) = room.verify(&["r.sqlite"]);
    assert!(code == Some(0) && said.contains("written by a newer version"), "{said}");
    room.good(&["note", "Hall 3", "read by an older one", record]);
    assert!(room.refused(&["close", "Hall 3", record]).contains("newer version"));
    room.good(&["export", "Hall 3", "x.job", record]);
    assert!(room.good(&["import", "x.job", "--record=other.sqlite"]).contains("3 events"));
    let json: serde_json::Value = serde_json::from_str(&room.good(&[
        "show",
        "Hall 3",
        "--as",
        "json",
        "--record=other.sqlite",
    ]))
    .unwrap();
    assert_eq!(
        (&json["events"][1]["kind"], &json["events"][1]["payload"]["depth_mm"]),
        (&"plumbed".into(), &12.into())
    );
}

/// Texts from a record that was made elsewhere, on their way to a terminal: list, show, verify, as
/// text, JSON and CSV.
#[test]
fn nothing_from_a_foreign_record_steers_the_screen() {
    const EVIL: &str = "a\u{1b}[2J\u{9b}31m\u{7}\u{202e}b\u{2066}c\r\n=1+1";
    let room = Room::new();
    let path = room.path().join("r.sqlite");
    let payload = serde_json::json!({ "text": EVIL, "about": null }).to_string();
    let row = Row {
        seq: 2,
        at: LATER,
        who: EVIL,
        software: EVIL,
        kind: "note",
        version: 2,
        payload: &payload,
    };
    forge(&path, row);
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute("UPDATE job SET name = ?1 WHERE job_id = 2", [EVIL]).unwrap();
    drop(connection);
    let record = "--record=r.sqlite";
    for words in [
        &["list", record][..],
        &["list", "--json", record],
        &["show", "Hall 3", record],
        &["show", "Hall 3", "--as", "json", record],
        &["show", "Hall 3", "--as", "events", record],
        &["show", "Hall 3", "--as", "takes", record],
        &["show", EVIL, record],
        &["show", "\u{1b}[2J", record],
        &["verify", "r.sqlite"],
        &["verify", "r.sqlite", "--json"],
        &["export", "Hall 3", "\u{1b}x.job", record],
        &["import", "r.sqlite", "--record=other.sqlite"],
        &["export", "--salvage", "s.sqlite", record],
    ] {
        let output = room.run(words);
        let said = text(&output.stdout) + &text(&output.stderr);
        let raw: Vec<char> = said
            .chars()
            .filter(|c| skimgauge_record::text::steers(*c) && !matches!(c, '\n' | '\r'))
            .collect();
        assert!(raw.is_empty(), "{words:?}: {raw:?} in {said:?}");
        assert!(!said.is_empty());
    }
    let json: serde_json::Value =
        serde_json::from_str(&room.good(&["show", "Hall 3", "--as", "json", record])).unwrap();
    assert_eq!(json["events"][1]["who"], EVIL, "in JSON the value is what it was");
}

/// A spreadsheet that opens the table computes nothing that somebody wrote into it.
#[test]
fn no_cell_of_a_table_begins_a_formula() {
    let room = Room::new();
    let stamp = |who: &str| {
        Stamp::new(When::parse("2026-11-25T09:14:03+01:00").unwrap(), who, "test").unwrap()
    };
    let mut record = Record::open(&room.path().join("r.sqlite")).unwrap();
    for who in ["=cmd()", "+1", "-1", "@SUM(A1)", " =1", "\u{ff1d}1", "A. Fitter", "-0.5 mm"] {
        record.note("Hall 3", &stamp(who), "-2").unwrap();
    }
    let table = room.good(&["show", "Hall 3", "--as", "events", "--record=r.sqlite"]);
    let mut rows = csv::Reader::from_reader(table.as_bytes());
    let who: Vec<String> = rows.records().skip(1).map(|row| row.unwrap()[3].to_owned()).collect();
    assert_eq!(
        who,
        ["'=cmd()", "'+1", "'-1", "'@SUM(A1)", "'=1", "'\u{ff1d}1", "A. Fitter", "'-0.5 mm"]
    );
}

/// A device or a pipe that never ends is read up to a limit, wherever a file is asked for.
#[cfg(unix)]
#[test]
fn what_never_ends_is_not_read_for_ever() {
    let room = Room::new();
    for words in [
        &["verify", "/dev/zero"][..],
        &["import", "/dev/zero", "--record=r.sqlite"],
        &["list", "--record=/dev/zero"],
        &["close", "Hall 3", "--sign", "/dev/zero", "--record=r.sqlite"],
        &["verify", "r.sqlite", "--key", "/dev/zero"],
        &["attach", "Hall 3", "/dev/zero", "--record=r.sqlite"],
    ] {
        let said = room.refused(words);
        assert!(said.contains("/dev/zero"), "{words:?}: {said}");
    }
    for words in [
        &["watch", "--job", "/dev/zero", "--head", "/dev/null"][..],
        &["setout", "--job", "/dev/zero"],
    ] {
        let output = room.skimgauge(words, &[]);
        assert_eq!(output.status.code(), Some(2), "{}", text(&output.stderr));
    }
}

impl Room {
    /// Writes a job file that tells everything set-out needs.
    fn job_file(&self, file: &str, client: &str, diagonal: &str) {
        let known = skimgauge_jobfile::Known {
            name: Some("reading room"),
            client: Some(client),
            place: Some("north wall"),
            by: Some("R. Oakes"),
        };
        let text = skimgauge_jobfile::filled_in(&known).replace("94 in", diagonal);
        fs::write(self.path().join(file), text).unwrap();
    }

    fn set_out(&self, file: &str, more: &[&str]) -> (Option<i32>, String) {
        let words = [&["setout", "--job", file, "--record=r.sqlite"][..], more].concat();
        let output = self.skimgauge(&words, &[]);
        (output.status.code(), text(&output.stderr))
    }

    fn events(&self, job: &str) -> Vec<String> {
        let history =
            Record::open_read_only(&self.path().join("r.sqlite")).unwrap().job(job).unwrap();
        history.events.iter().map(|event| event.body.kind().to_owned()).collect()
    }
}

/// Two job files of one name, another client or image in the second: never one job without a word.
#[test]
fn one_name_is_one_job() {
    let room = Room::new();
    room.job_file("one.toml", "Larch Lane", "94 in");
    assert_ne!(room.set_out("one.toml", &[]).0, Some(2));
    let before = room.events("reading room");
    // The same again, and the same image in other words, is the same job.
    room.job_file("again.toml", "Larch Lane", "2387.6 mm");
    assert_ne!(room.set_out("again.toml", &[]).0, Some(2));
    for (client, diagonal, differs) in [
        ("Mill Street", "94 in", "client \"Larch Lane\" there, \"Mill Street\" here"),
        ("Larch Lane", "92 in", "image \"2025 by 1265 mm\" there"),
    ] {
        room.job_file("two.toml", client, diagonal);
        let kept = room.events("reading room");
        let (status, said) = room.set_out("two.toml", &[]);
        assert_eq!(status, Some(2), "{said}");
        for words in [differs, "a name of its own", "--same-job", "Nothing was kept"] {
            assert!(said.contains(words), "{words}: {said}");
        }
        assert_eq!(room.events("reading room"), kept);
    }
    // Said to be the same, it is, and that is written down for whoever reads the record.
    room.job_file("two.toml", "Mill Street", "94 in");
    assert_ne!(room.set_out("two.toml", &["--same-job"]).0, Some(2));
    assert!(room.events("reading room").len() > before.len());
    let shown = room.good(&["show", "reading room", "--record=r.sqlite"]);
    assert!(
        shown.contains("said to be the same job, though client was Larch Lane, is Mill Street"),
        "{shown}"
    );
    assert_ne!(room.set_out("two.toml", &[]).0, Some(2), "from then on it is the job's own file");
}

/// A job read in from elsewhere that only has the name stands beside; the one with the same client
/// is gone on with.
#[test]
fn of_two_jobs_of_one_name_the_one_that_fits_is_gone_on_with() {
    let (room, elsewhere) = (Room::new(), Room::new());
    room.job_file("one.toml", "Larch Lane", "94 in");
    elsewhere.job_file("one.toml", "Mill Street", "94 in");
    assert_ne!(room.set_out("one.toml", &[]).0, Some(2));
    assert_ne!(elsewhere.set_out("one.toml", &[]).0, Some(2));
    elsewhere.good(&["export", "reading room", "x.job", "--record=r.sqlite"]);
    let file = elsewhere.path().join("x.job").display().to_string();
    assert!(room.good(&["import", &file, "--record=r.sqlite"]).contains("the same name"));
    let ids: Vec<String> = Record::open_read_only(&room.path().join("r.sqlite"))
        .unwrap()
        .jobs()
        .unwrap()
        .iter()
        .filter(|job| job.name == "reading room")
        .map(|job| job.id.to_string())
        .collect();
    assert_eq!(ids.len(), 2);
    let listed = room.good(&["list", "--record=r.sqlite"]);
    assert!(
        ids.iter().all(|id| listed.contains(&format!("reading room [{}]", &id[..8]))),
        "{listed}"
    );
    let said = room.refused(&["show", "reading room", "--record=r.sqlite"]);
    assert!(ids.iter().all(|id| said.contains(id)), "{said}");
    room.good(&["show", &ids[0][..8], "--record=r.sqlite"]);
    // Each job file goes on with its own.
    assert_ne!(room.set_out("one.toml", &[]).0, Some(2));
    room.job_file("third.toml", "A. Third", "94 in");
    let (status, said) = room.set_out("third.toml", &["--same-job"]);
    assert!(
        status == Some(2) && said.contains("--same-job=ID") && said.contains(&ids[1]),
        "{said}"
    );
    let which = format!("--same-job={}", &ids[1][..8]);
    assert_ne!(room.set_out("third.toml", &[&which]).0, Some(2));
    assert!(room.events(&ids[1]).contains(&"job revised".to_owned()));
    assert!(!room.events(&ids[0]).contains(&"job revised".to_owned()));
}

#[test]
fn a_broken_or_closed_job_takes_no_work_and_says_so_first() {
    let room = Room::new();
    room.job_file("one.toml", "Larch Lane", "94 in");
    assert_ne!(room.set_out("one.toml", &[]).0, Some(2));
    let path = room.path().join("r.sqlite");
    let whole = fs::read(&path).unwrap();
    room.good(&["close", "reading room", "--record=r.sqlite"]);
    let (status, said) = room.set_out("one.toml", &[]);
    assert!(status == Some(2) && said.contains("is closed"), "{said}");
    fs::write(&path, whole).unwrap();
    let connection = rusqlite::Connection::open(&path).unwrap();
    let stays: String = connection
        .query_row("SELECT sql FROM sqlite_schema WHERE name = 'event_stays'", [], |row| row.get(0))
        .unwrap();
    connection
        .execute_batch(&format!(
            "DROP TRIGGER event_stays; UPDATE event SET who = 'B' WHERE job_id = 3 AND seq = 2; {stays}"
        ))
        .unwrap();
    drop(connection);
    let before = fs::read(&path).unwrap();
    let photo = room.path().join("wall.jpg");
    fs::write(&photo, [0xff, 0xd8, 1]).unwrap();
    for words in [
        &["setout", "--job", "one.toml", "--record=r.sqlite"][..],
        &["watch", "--job", "one.toml", "--record=r.sqlite", "--head", "/dev/null"],
        &["trim", "--job", "one.toml", "--record=r.sqlite", "--head", "/dev/null", "--plain"],
        &["jobs", "note", "reading room", "x", "--record=r.sqlite"],
        &["jobs", "attach", "reading room", "wall.jpg", "--record=r.sqlite"],
        &["jobs", "close", "reading room", "--record=r.sqlite"],
    ] {
        let output = room.skimgauge(words, &[]);
        let said = text(&output.stderr);
        assert_eq!(output.status.code(), Some(2), "{words:?}: {said}");
        for part in ["r.sqlite", "broken at event 2", "--record NEW-FILE", "--salvage"] {
            assert!(said.contains(part), "{words:?}: {part}: {said}");
        }
        assert_eq!(fs::read(&path).unwrap(), before, "{words:?}");
    }
}

/// A record of the first format is read as it is; work in it brings it up to date, and says where
/// the old file is.
#[test]
fn an_old_record_is_brought_up_to_date_aloud() {
    let room = Room::new();
    let fixture =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../record/tests/data/record_v1.sqlite");
    fs::copy(&fixture, room.path().join("old.sqlite")).unwrap();
    for words in [
        &["list", "--record=old.sqlite"][..],
        &["show", "Hall 3", "--record=old.sqlite"],
        &["verify", "old.sqlite"],
    ] {
        room.good(words);
    }
    assert_eq!(fs::read(room.path().join("old.sqlite")).unwrap(), fs::read(&fixture).unwrap());
    let output = room.run(&["note", "Hall 4", "x", "--record=old.sqlite"]);
    assert!(output.status.success());
    assert!(
        text(&output.stderr).contains("kept as old.format-1.sqlite"),
        "{}",
        text(&output.stderr)
    );
    assert_eq!(
        fs::read(room.path().join("old.format-1.sqlite")).unwrap(),
        fs::read(&fixture).unwrap()
    );
    assert!(room.good(&["verify", "old.sqlite"]).contains("Every link holds"));
}

/// Who adds is asked before an earlier record is brought up to date for it.
#[test]
fn a_note_by_nobody_leaves_an_earlier_record_as_it_is() {
    let room = Room::new();
    let fixture =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../record/tests/data/record_v1.sqlite");
    let old = room.path().join("old.sqlite");
    fs::copy(&fixture, &old).unwrap();
    let files = || fs::read_dir(room.path()).unwrap().count();
    let before = files();
    for words in
        [&["note", "Hall 4", "x"][..], &["close", "Hall 4"], &["attach", "Hall 4", "old.sqlite"]]
    {
        let output = Command::new(env!("CARGO_BIN_EXE_skimgauge"))
            .arg("jobs")
            .args(words)
            .arg("--record=old.sqlite")
            .current_dir(room.path())
            .env_remove("USER")
            .env_remove("USERNAME")
            .env_remove("LOGNAME")
            .output()
            .unwrap();
        assert_eq!(output.status.code(), Some(2), "{words:?}");
        assert!(text(&output.stderr).contains("--by NAME"), "{}", text(&output.stderr));
        assert_eq!(fs::read(&old).unwrap(), fs::read(&fixture).unwrap(), "{words:?}");
        assert_eq!(files(), before, "{words:?}");
    }
}

/// What no longer refuses what it should is read, and said to be so.
#[test]
fn a_record_without_its_triggers_is_said_to_be_altered() {
    let room = Room::new();
    let connection = rusqlite::Connection::open(room.path().join("r.sqlite")).unwrap();
    connection.execute_batch("DROP TRIGGER event_keeps").unwrap();
    drop(connection);
    let record = "--record=r.sqlite";
    let shown = room.good(&["show", "Hall 3", record]);
    assert!(shown.contains("something altered them"), "{shown}");
    let listed = room.run(&["list", record]);
    assert!(text(&listed.stderr).contains("something altered them"), "{listed:?}");
    let page = room.skimgauge(
        &["handover", "--job", "Hall 3"],
        &["--record", "r.sqlite", "--out", "page.html"],
    );
    assert_eq!(page.status.code(), Some(0), "{page:?}");
    let page = fs::read_to_string(room.path().join("page.html")).unwrap();
    assert!(page.contains("is not as the program makes it"));
}

/// A pipe would never end, a device keeps nothing.
#[cfg(unix)]
#[test]
fn a_record_that_is_no_file_is_refused_in_words() {
    let room = Room::new();
    let made = Command::new("mkfifo").arg(room.path().join("pipe")).status();
    let pipe = made.is_ok_and(|status| status.success());
    let places = [("/dev/null", "is a device"), (".", "is a folder"), ("pipe", "is a pipe")];
    for (place, says) in places.into_iter().filter(|(place, _)| *place != "pipe" || pipe) {
        for words in [&["list"][..], &["note", "Hall 3", "x"], &["show", "Hall 3"]] {
            let said = room.refused(&[words, &["--record", place]].concat());
            assert!(said.contains(says) && said.contains("a file on a disk"), "{place}: {said}");
        }
    }
}

/// What is kept of a photo is what it was when it was attached, and it is said so; a link is not
/// followed again.
#[cfg(unix)]
#[test]
fn a_photo_stays_as_it_was_when_it_was_attached() {
    let room = Room::new();
    let (record, elsewhere) = ("--record=r.sqlite", room.path().join("elsewhere"));
    room.good(&["note", "Hall 3", "before", record]);
    fs::create_dir(&elsewhere).unwrap();
    let (first, later) = (b"\xff\xd8 first", b"\xff\xd8 private, and not of this job");
    fs::write(elsewhere.join("wall.jpg"), first).unwrap();
    std::os::unix::fs::symlink(elsewhere.join("wall.jpg"), room.path().join("link.jpg")).unwrap();
    let said = room.good(&["attach", "Hall 3", "link.jpg", record]);
    let said = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(said.contains("Kept are its 8 bytes as they are now"), "{said}");
    assert!(said.contains("link.jpg is a link") && said.contains("elsewhere/wall.jpg"), "{said}");
    fs::write(elsewhere.join("wall.jpg"), later).unwrap();
    let holds = |file: &str, bytes: &[u8]| {
        let file = fs::read(room.path().join(file)).unwrap();
        file.windows(bytes.len()).any(|window| window == bytes)
    };
    for name in ["hall.job", "hall.json"] {
        room.good(&["export", "Hall 3", name, record]);
    }
    assert!(holds("hall.job", first) && !holds("hall.job", later) && !holds("hall.json", later));
    fs::remove_file(elsewhere.join("wall.jpg")).unwrap();
    let page = ["handover", "--job", "Hall 3", record, "--out", "page.html"];
    let made = room.skimgauge(&page, &[]);
    assert_eq!(made.status.code(), Some(0), "{}", text(&made.stderr));
    // In Base64 the first three bytes of "\xff\xd8 first" are /9gg.
    assert!(holds("page.html", b"/9ggZmlyc3Q="), "the photo as it was");
}

/// Each command that a message names is for the record that was named.
#[test]
fn commands_in_messages_keep_the_record() {
    let room = Room::new();
    let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
    room.job_file("one.toml", "Larch Lane", "94 in");
    assert_ne!(room.set_out("one.toml", &[]).0, Some(2));
    let survey = room.skimgauge(&["survey", "--job", "one.toml", "--record=r.sqlite"], &[]);
    let (survey, told) = (words(&text(&survey.stdout)), words(&text(&survey.stderr)));
    assert!(survey.contains("--points POINTS.csv --record r.sqlite"), "{survey} {told}");
    assert!(survey.contains("skimgauge survey --job one.toml --from POINTS.csv"), "{survey}");
    // The file undoes what was done by it.
    let next = ["next", "--job", "one.toml", "--record=r.sqlite"];
    for said in [
        &["--leave-out", "set-out", "--why", "as it hung before"][..],
        &["--leave-out", "services", "--why", "as they were"],
        &["--done", "emitter", "--checked"],
    ] {
        let said = room.skimgauge(&[&next[..], said].concat(), &[]);
        assert_ne!(said.status.code(), Some(2), "{}", text(&said.stderr));
    }
    let file = fs::read_to_string(room.path().join("one.toml")).unwrap();
    let file = file.replace("[emitter]\n", "[emitter]\nright = \"5 mm\"\n");
    fs::write(room.path().join("one.toml"), file).unwrap();
    let next = "`skimgauge next --job one.toml --record r.sqlite` tells why";
    let close = ["close", "reading room", "--job", "one.toml", "--record=r.sqlite"];
    let refused = words(&room.refused(&close));
    assert!(refused.contains(next), "{refused}");
    let page = ["handover", "--job", "one.toml", "--record=r.sqlite", "--out", "page.html"];
    let page = words(&text(&room.skimgauge(&page, &[]).stderr));
    assert!(page.contains(next), "{page}");
    let closed = words(&room.good(&["close", "reading room", "--record=r.sqlite"]));
    let both = "`skimgauge jobs close \"reading room\" --job FILE --record r.sqlite` looks at both";
    assert!(closed.contains(both), "{closed}");
}
