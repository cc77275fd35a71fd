//! What was measured and what was not, as it is told on the terminal and on the client's page.

use crate::bench::{Bench, told};

/// Six lengths of the true rectangle, taped this finely.
fn taped(bench: &Bench, u: &str) {
    let tape = format!(
        "[tape]\ntop = \"2000 mm\"\nbottom = \"2000 mm\"\nleft = \"1250 mm\"\nright = \"1250 mm\"\n\
         falling = \"2358.5 mm\"\nrising = \"2358.5 mm\"\nuncertainty = \"{u}\"\n"
    );
    let job = format!(
        "[job]\nname = \"hall\"\nclient = \"c\"\nplace = \"p\"\nby = \"R. Oakes\"\n\
         [image]\nwidth = \"2000 mm\"\nheight = \"1250 mm\"\n{tape}"
    );
    std::fs::write(bench.folder.join("job.toml"), job).unwrap();
}

/// One line, however it is broken.
fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn a_tape_alone_says_that_no_place_was_measured() {
    let bench = Bench::new("taped");
    taped(&bench, "1 mm");
    let (status, out, _) = bench.run(&["square", "--record", "r.db"]);
    let out = flat(&out);
    assert_eq!(status, 0, "{out}");
    assert!(out.contains("NOT measured is where the image lies on the board and how"), "{out}");
    assert!(!out.contains("from where they should be") && !out.contains("mm out"), "{out}");
    let mut page = std::process::Command::new(env!("CARGO_BIN_EXE_skimgauge"));
    page.current_dir(&bench.folder);
    page.args(["handover", "--job", "hall", "--record", "r.db", "--out", "page.html"]);
    let (status, _, err) = told(&page.output().unwrap());
    assert_ne!(status, 2, "{err}");
    let page = bench.read("page.html");
    assert!(page.contains("NOT measured is where the image lies on the board"), "{page}");
    assert!(!page.contains("against where they should be"), "{page}");
}

#[test]
fn a_fine_tape_is_not_said_to_know_everything() {
    let bench = Bench::new("fine-tape");
    taped(&bench, "0.01 mm");
    for units in ["mm", "inch"] {
        let (_, out, _) = bench.run(&["square", "--no-record", "--units", units]);
        let lines: Vec<&str> = out.lines().filter(|line| line.contains('\u{b1}')).collect();
        assert!(lines.len() > 3, "{out}");
        for line in lines {
            let by = line.split('\u{b1}').nth(1).unwrap().split_whitespace().next().unwrap();
            assert!(by.bytes().any(|digit| (b'1'..=b'9').contains(&digit)), "{line}");
        }
    }
}
