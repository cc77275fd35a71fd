//! Writes `hardware/sums.md`, `hardware/error-budget.md` and `hardware/window.md` from the
//! schematic's values, the body's figures, the ratings and the code.

use skimgauge_hardware::figures::{Body, Ratings};
use skimgauge_hardware::netlist::Netlist;
use skimgauge_hardware::{budget, path, source, sums, window};

fn main() -> Result<(), String> {
    let netlist = Netlist::parse(&source("hardware/schematic/head.xml"))?;
    let ratings = Ratings::parse(&source("hardware/ratings.toml"))?;
    let body = Body::parse(&source("hardware/body/params.toml"))?;
    let shares = budget::shares(&body, &ratings, &budget::Code::read())?;
    for (name, text) in [
        ("sums.md", sums::document(&sums::all(&netlist, &ratings)?)),
        ("error-budget.md", budget::document(&shares)),
        ("window.md", window::document(&body)),
    ] {
        let path = path(&format!("hardware/{name}"));
        std::fs::write(&path, text).map_err(|error| format!("{}: {error}", path.display()))?;
    }
    Ok(())
}
