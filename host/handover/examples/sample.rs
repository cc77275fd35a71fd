//! Writes the pages of an invented job: `cargo run -p skimgauge-handover --example sample
//! [--features pdf] -- FOLDER`.

#[path = "../tests/common/mod.rs"]
mod common;

use skimgauge_handover::{Options, Units, page};
use std::{fs, path::Path};

fn main() -> std::io::Result<()> {
    let folder = std::env::args().nth(1).unwrap_or_else(|| ".".to_owned());
    let folder = Path::new(&folder);
    fs::create_dir_all(folder)?;
    let samples = [
        ("library", common::library()),
        ("empty", common::empty()),
        ("few", common::few()),
        ("long", common::long()),
        ("many", common::many(500)),
        ("hostile", common::hostile()),
    ];
    for (name, bench) in &samples {
        let history = bench.history();
        for (units, ending) in [(Units::Mm, ""), (Units::Inch, "-inch")] {
            let options = Options { units };
            fs::write(folder.join(format!("{name}{ending}.html")), page(&history, &options))?;
            #[cfg(feature = "pdf")]
            fs::write(
                folder.join(format!("{name}{ending}.pdf")),
                skimgauge_handover::pdf(&history, &options).map_err(std::io::Error::other)?,
            )?;
        }
    }
    Ok(())
}
