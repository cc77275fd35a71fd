//! The pages themselves, built in.

/// A file as it is served.
pub(crate) struct File {
    pub(crate) path: &'static str,
    pub(crate) kind: &'static str,
    pub(crate) text: &'static str,
}

const HTML: &str = "text/html; charset=utf-8";
const CSS: &str = "text/css; charset=utf-8";
const SCRIPT: &str = "text/javascript; charset=utf-8";

macro_rules! files {
    ($($path:literal $kind:ident $file:literal)*) => {
        &[$(File { path: $path, kind: $kind, text: include_str!(concat!("../files/", $file)) }),*]
    };
}

pub(crate) const FILES: &[File] = files! {
    "/" HTML "phone.html"
    "/phone" HTML "phone.html"
    "/board" HTML "board.html"
    "/proof" HTML "proof.html"
    "/files/proof.css" CSS "proof.css"
    "/files/proof.js" SCRIPT "proof.js"
    "/files/page.css" CSS "page.css"
    "/files/phone.css" CSS "phone.css"
    "/files/board.css" CSS "board.css"
    "/files/link.js" SCRIPT "link.js"
    "/files/drawn.js" SCRIPT "drawn.js"
    "/files/scale.js" SCRIPT "scale.js"
    "/files/sound.js" SCRIPT "sound.js"
    "/files/phone.js" SCRIPT "phone.js"
    "/files/board.js" SCRIPT "board.js"
    "/files/frame.js" SCRIPT "frame.js"
    "/files/walk.js" SCRIPT "walk.js"
    "/files/steps.js" SCRIPT "steps.js"
    "/files/stage.js" SCRIPT "stage.js"
    "/files/adjusters.js" SCRIPT "adjusters.js"
    "/files/places.js" SCRIPT "places.js"
    "/files/keys.js" SCRIPT "keys.js"
    "/files/layout.js" SCRIPT "layout.js"
    "/files/announce.js" SCRIPT "announce.js"
};

/// Where in [`FILES`] this path is.
pub(crate) fn at(path: &str) -> Option<usize> {
    FILES.iter().position(|file| file.path == path)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the security policy forbids would not work: a style or a script inside a page, an
    /// address of another house.
    #[test]
    fn nothing_in_the_pages_asks_elsewhere_or_stands_inside() {
        for File { path, text, .. } in FILES {
            let bare = text.replace("http://www.w3.org/2000/svg", "");
            for forbidden in [
                "http://",
                "https://",
                "//cdn",
                "style=\"",
                "<style",
                " onclick",
                "innerHTML",
                "outerHTML",
                "insertAdjacentHTML",
                "document.write",
                "eval(",
                "document.cookie",
            ] {
                assert!(!bare.contains(forbidden), "{path} has {forbidden}");
            }
        }
    }

    #[test]
    fn every_file_that_a_page_names_is_there() {
        for File { path, text, .. } in FILES {
            for named in text
                .split(['"', '\''])
                .filter(|part| part.starts_with("/files/") || part.starts_with("./"))
            {
                let named = named.replace("./", "/files/");
                assert!(at(&named).is_some(), "{path} names {named}");
            }
        }
    }
}
