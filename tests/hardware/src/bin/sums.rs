//! Writes `hardware/sums.md` from the schematic's values and the ratings.

use skimgauge_hardware::figures::Ratings;
use skimgauge_hardware::netlist::Netlist;
use skimgauge_hardware::{source, sums};
use std::path::Path;

fn main() -> Result<(), String> {
    let netlist = Netlist::parse(&source("hardware/schematic/head.xml"))?;
    let ratings = Ratings::parse(&source("hardware/ratings.toml"))?;
    let text = sums::document(&sums::all(&netlist, &ratings)?);
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../hardware/sums.md");
    std::fs::write(&path, text).map_err(|error| format!("{}: {error}", path.display()))
}
