//! What is said of a file as a whole: its syntax, its size, what is no text.

use crate::{errors, only, with};
use skimgauge_jobfile::{Job, LARGEST_FILE_BYTES, demo_job};

#[test]
fn all_problems_at_once_in_the_order_of_the_file() {
    let text = with("\"16:10\"", "16")
        .replacen("\"80 mm\"", "80", 1)
        .replacen("\"R. Oakes\"", "7", 1)
        .replacen("0.5 mm", "0.5", 2)
        + "lena = 1\n";
    let errors = errors(&text);
    let lines: Vec<_> = errors.problems.iter().map(|problem| problem.line).collect();
    assert_eq!(lines.len(), 6, "{errors}");
    assert!(lines.is_sorted());
    assert!(!errors.syntax);
}

#[test]
fn syntax_errors_are_told_in_plain_words() {
    for (old, new, line, wrong) in [
        ("\"94 in\"", "\"94 in", "diagonal = \"94 in", "quote that begins this text is not closed"),
        ("\"94 in\"", "'94 in", "diagonal = '94 in", "quote that begins this text is not closed"),
        ("[image]", "[image", "[image", "no closing bracket"),
        ("\"94 in\"", "", "diagonal =", "nothing is written after the ="),
        ("diagonal =", "diagonal", "diagonal \"94 in\"", "no = after its key"),
        (
            "\"94 in\"",
            "\"94 in\" or so",
            "diagonal = \"94 in\" or so",
            "does not belong on this line",
        ),
        ("\"94 in\"", "94,5", "diagonal = 94,5", "does not belong on this line"),
        ("\"94 in\"", "\"a\\path\"", "diagonal = \"a\\path\"", "backslash"),
        ("\"94 in\"", "tru", "diagonal = tru", "invalid boolean"),
    ] {
        let text = with(old, new);
        let errors = errors(&text);
        assert!(errors.syntax);
        let problem = &errors.problems[0];
        assert_eq!(problem.source.trim_end(), line, "{errors}");
        assert!(problem.wrong.contains(wrong), "{errors}");
        assert!(
            errors
                .to_string()
                .ends_with("The rest of the file is checked once this can be read.\n")
        );
    }
}

#[test]
fn where_the_syntax_allows_it_the_rest_is_checked_too() {
    // A repeated key, and a text without quotes, leave no doubt what the rest says.
    for (old, new, wrong) in [
        ("aspect =", "diagonal = \"90 in\"\naspect =", "a second time"),
        ("\"Larch Lane Library\"", "Library", "no quotes"),
    ] {
        let text = with(old, new).replacen("above_top", "over", 1);
        let errors = errors(&text);
        assert_eq!(errors.problems.len(), 2, "{errors}");
        assert!(errors.problems[0].wrong.contains(wrong), "{errors}");
        assert!(errors.problems[1].wrong.contains("no key `over`"), "{errors}");
    }
}

#[test]
fn empty_files() {
    for text in ["", "\n\n", "# nothing but words\n", "\u{feff}"] {
        let errors = errors(text);
        assert_eq!(errors.problems.len(), 1);
        assert!(errors.problems[0].expected.contains("jobs new"), "{errors}");
    }
}

#[test]
fn what_is_not_text() {
    let mut bytes = demo_job().as_bytes().to_vec();
    bytes.extend(b"\n# caf\xe9\n");
    let errors = Job::parse_bytes("wall.toml", &bytes).unwrap_err();
    assert!(errors.problems[0].wrong.contains("not UTF-8"), "{errors}");
    assert_eq!(errors.problems[0].source, "# caf");
    assert!(Job::parse_bytes("wall.toml", demo_job().as_bytes()).is_ok());
}

#[test]
fn editors_leave_marks_that_do_no_harm() {
    let job = Job::parse("plain", demo_job()).unwrap();
    let windows = format!("\u{feff}{}", demo_job().replace('\n', "\r\n"));
    assert_eq!(Job::parse("windows", &windows).unwrap(), job);
}

#[test]
fn large_garbage_is_refused_unread() {
    let errors = errors(&"[x]\n".repeat(2_500_000));
    assert_eq!((errors.problems.len(), errors.unlisted), (1, 0));
    assert!(errors.problems[0].wrong.contains("cannot be a job file"));
}

#[test]
fn what_fills_the_whole_size_is_read_and_listed_in_part() {
    let most = |piece: &str| piece.repeat((LARGEST_FILE_BYTES - 8) / piece.len());
    for piece in [
        "[",
        "a=",
        "=\n",
        "a=1\n",
        "[[a]]\n",
        "[a]\n",
        "\"",
        "\0",
        "[a.a]\n",
        "a.a=1\n",
        "'''",
        "{a=",
        "[[station]]\n",
    ] {
        let errors = errors(&most(piece));
        assert!(!errors.problems.is_empty() && errors.problems.len() <= 40, "{piece}");
    }
}

/// Nesting is refused before it can exhaust the stack, however it is written.
#[test]
fn deep_nesting() {
    let deep = 50_000;
    for text in [
        format!("a = {}", "[".repeat(deep)),
        format!("a = {}{}", "[".repeat(deep), "]".repeat(deep)),
        format!("a = {}", "{a=".repeat(deep)),
        format!("{}a = 1", "a.".repeat(deep)),
        format!("[{}a]", "a.".repeat(deep)),
        format!("[[{}a]]", "a.".repeat(deep)),
        format!("[job]\n{}a = 1", "name.".repeat(deep)),
    ] {
        let errors = errors(&text);
        assert!(errors.problems[0].wrong.contains("nested too deeply"), "{errors}");
        assert_eq!(errors.problems.len(), 1);
    }
}

/// The lines below a list without its bracket are right as they stand.
#[test]
fn a_missing_bracket_is_told_where_the_list_begins() {
    let line = "gap = [\"1.0 mm\", \"4.0 mm\"]";
    let open = &line[..line.len() - 1];
    only(&with(line, open), open, "this list has no closing bracket", "] at its end");
    // A quote that is not closed swallows the bracket: that is what is to be mended.
    let quote = "gap = [\"1.0 mm\", \"4.0 mm]";
    only(&with(line, quote), quote, "the quote that begins this text is not closed", "same quote");
}
