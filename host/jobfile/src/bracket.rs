//! A list without its closing bracket. The reader of TOML takes the lines below it for more of the
//! list, and complains of each of them; what is to be mended stands where the list begins.

use std::ops::Range;
use toml_parser::Source;
use toml_parser::lexer::TokenKind;

/// The opening bracket of the first list in which another key stands, or that the file ends in.
pub(crate) fn unclosed(text: &str) -> Option<Range<usize>> {
    let mut open: Vec<(TokenKind, Range<usize>)> = Vec::new();
    let mut in_value = false;
    for token in Source::new(text).lex() {
        let at = token.span().start()..token.span().end();
        match token.kind() {
            TokenKind::Equals => match open.last() {
                Some((TokenKind::LeftSquareBracket, _)) => break,
                _ => in_value = true,
            },
            kind @ (TokenKind::LeftSquareBracket | TokenKind::LeftCurlyBracket) if in_value => {
                open.push((kind, at));
            }
            TokenKind::RightSquareBracket | TokenKind::RightCurlyBracket if in_value => {
                open.pop();
            }
            TokenKind::Newline if open.is_empty() => in_value = false,
            _ => (),
        }
    }
    let lists = open.into_iter().filter(|(kind, _)| *kind == TokenKind::LeftSquareBracket);
    lists.map(|(_, at)| at).next()
}

#[cfg(test)]
mod tests {
    use super::unclosed;

    #[test]
    fn a_list_that_another_key_stands_in_is_not_closed() {
        let begins = |text: &str| unclosed(text).map(|at| at.start);
        assert_eq!(begins("[a]\nb = [1, 2\nc = 3\n"), Some(8));
        assert_eq!(begins("b = [[1, 2], [3, 4]\n[next]\nc = 3\n"), Some(4), "the outer one");
        assert_eq!(begins("b = [1, 2\n"), Some(4), "the file ends in it");
        for whole in [
            "[a]\nb = [1, 2]\n[[c]]\nd = [\n  [1, 2], # [\n  [3, 4],\n]\ne = \"[\"\n",
            "a = [{ b = 1 }, { b = 2 }]\nc = { d = [1, 2] }\n",
            "a = \"\"\"\n[ = [\n\"\"\"\nb = '['\n",
            "",
        ] {
            assert_eq!(begins(whole), None, "{whole}");
        }
    }
}
