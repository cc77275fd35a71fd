//! `skimgauge-image uf2 IMAGE.elf IMAGE.uf2` writes a UF2; `skimgauge-image room IMAGE.elf` tells
//! what it takes.

use skimgauge_image::{elf, mark, uf2};
use std::error::Error;
use std::process::ExitCode;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
    let outcome = match arguments[..] {
        ["uf2", from, to] => convert(from, to),
        ["room", file] => tell(file),
        _ => Err("usage: skimgauge-image uf2 IMAGE.elf IMAGE.uf2 | skimgauge-image room IMAGE.elf"
            .into()),
    };
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("skimgauge-image: {error}");
            ExitCode::from(2)
        }
    }
}

fn read(path: &str) -> Result<Vec<u8>, Box<dyn Error>> {
    std::fs::read(path).map_err(|error| format!("{path}: {error}").into())
}

fn convert(from: &str, to: &str) -> Result<(), Box<dyn Error>> {
    let pieces = elf::pieces(&read(from)?)?;
    let (version, image) =
        mark::sealed(&pieces).ok_or("the ELF is no head's image: it does not carry the mark")?;
    let file = uf2::write(&[image]);
    std::fs::write(to, &file).map_err(|error| format!("{to}: {error}"))?;
    println!("{to}: version {version}, {} blocks", file.len() / 512);
    Ok(())
}

fn tell(path: &str) -> Result<(), Box<dyn Error>> {
    let room = elf::room(&read(path)?)?;
    println!("flash {} bytes, static memory {} bytes", room.flash, room.static_memory);
    Ok(())
}
