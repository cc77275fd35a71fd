//! Another firmware onto a head, step by step.

use super::beside;
use super::drive;
use super::image::Image;
use super::loader;
use crate::head::find::{self, Port};
use crate::head::link::Link;
use crate::outcome::Ended;
use crate::written::UF2;
use anyhow::{Context, bail};
use skimgauge_session::{HeadIs, Refused, Trouble};
use skimgauge_shared::message::{Capabilities, PROTOCOL, SerialNumber, Version};
use skimgauge_system::output::{self, Outputs, Replace};
use skimgauge_system::{drives, input};
use std::cmp::Ordering;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

/// A desktop may take its time to mount a drive; a person who mounts it by hand, too.
const DRIVE_FOR: Duration = Duration::from_secs(60);
const BACK_FOR: Duration = Duration::from_secs(30);
const LOOK_EVERY: Duration = Duration::from_millis(200);

/// What is to be done.
#[derive(Debug, Clone)]
pub struct Flash {
    /// The firmware file.
    pub file: PathBuf,
    /// The head's port; without it, the one head that USB shows.
    pub port: Option<String>,
    /// The boot loader's drive, where it is not found by itself.
    pub drive: Option<PathBuf>,
    /// Do not ask.
    pub yes: bool,
    /// Nobody is at the head, who could press its button.
    pub unattended: bool,
}

/// The head that is to be written.
enum Found {
    /// One that this program understands.
    Known(Link, Box<HeadIs>),
    /// One of another protocol or of other shapes: only the way into its boot loader is the same.
    Stranger,
}

impl Flash {
    /// Checks the file, asks, writes, and holds the head to the file's version.
    ///
    /// # Errors
    /// What went wrong, in what state the head is, and what to do.
    pub fn run(&self) -> anyhow::Result<Ended> {
        let shown = self.file.display();
        let bytes = input::read(&self.file, input::FIRMWARE)
            .with_context(|| format!("{shown} cannot be read."))?;
        let image = Image::check(bytes).map_err(|why| {
            anyhow::anyhow!(
                "{shown} does not go onto a head: {why}. Nothing was written. `skimgauge ports --flash` without a file takes the one that came with the \
                 program; in the source `firmware/build` makes it."
            )
        })?;
        let Some(port) = self.port()? else { return self.waiting_board(&image) };
        let found = found(&port)?;
        match &found {
            Found::Known(_, head) => {
                let name = head.hello.serial.map_or_else(
                    || "without a serial number".to_owned(),
                    |serial| serial.to_string(),
                );
                println!("Head {name} on {port}: firmware {}.", head.hello.firmware);
                println!(
                    "{shown}: firmware {}, {}.",
                    image.version,
                    compared(image.version, head.hello.firmware)
                );
                if !head.hello.capabilities.has(Capabilities::LOADER) {
                    bail!("This head cannot go into its boot loader by itself. {BY_BUTTON}");
                }
            }
            Found::Stranger => {
                println!("{shown}: firmware {}, protocol {PROTOCOL}.", image.version);
            }
        }
        if !self.agreed("Write it to the head? Type `yes`.")? {
            println!("Nothing was written.");
            return Ok(Ended::Unsure);
        }
        let before = drive::loaders();
        if let Some(drive) = &self.drive
            && drive::is_loader(drive)
        {
            bail!(
                "Another board waits in its boot loader at {}, which could be taken for the head. Unplug it, or name no \
                 port to write to that board. Nothing was written.",
                drive.display()
            );
        }
        let head = match found {
            Found::Known(link, head) => {
                loader::enter(&link, &port, self.unattended)?;
                println!("The head is in its boot loader.");
                Some(head)
            }
            Found::Stranger => {
                loader::enter_stranger(&port)?;
                None
            }
        };
        let drive = self.await_drive(&before)?;
        let entered = Instant::now();
        self.copy(&image, &drive)?;
        self.verify(&image, &port, head.as_deref(), entered)
    }

    /// The port to use; `None`: no head answers, and a board waits in its boot loader.
    fn port(&self) -> anyhow::Result<Option<String>> {
        if let Some(port) = &self.port {
            return Ok(Some(port.clone()));
        }
        let ports = find::ports()
            .map_err(|why| anyhow::anyhow!("This computer cannot list its ports: {why}."))?;
        let heads: Vec<Port> = ports.into_iter().filter(|port| port.is_head).collect();
        match &heads[..] {
            [head] => Ok(Some(head.name.clone())),
            [] => Ok(None),
            several => {
                let names: Vec<&str> = several.iter().map(|port| port.name.as_str()).collect();
                bail!(
                    "There are several heads ({}). Name one port: skimgauge ports --flash FILE PORT.",
                    names.join(", ")
                )
            }
        }
    }

    /// A board that was plugged in with its button held, or that never had a firmware.
    fn waiting_board(&self, image: &Image) -> anyhow::Result<Ended> {
        let drives = match &self.drive {
            Some(drive) if drive::is_loader(drive) => vec![drive.clone()],
            Some(drive) => {
                bail!(
                    "No head is plugged in, and {} is not the drive of a boot loader. {BY_BUTTON}",
                    drive.display()
                )
            }
            None => drive::loaders(),
        };
        let drive = match &drives[..] {
            [drive] => drive,
            [] => bail!("No head is plugged in. Plug it in, or name its port. {BY_BUTTON}"),
            _ => bail!(
                "Several boards wait in their boot loaders. Leave only the head's plugged in."
            ),
        };
        println!("{}: firmware {}.", self.file.display(), image.version);
        println!(
            "A board waits in its boot loader at {}. Which head it is cannot be told from here.",
            drive.display()
        );
        if !self.agreed("Is it the head's board, and shall it be written? Type `yes`.")? {
            println!("Nothing was written.");
            return Ok(Ended::Unsure);
        }
        self.copy(image, drive)?;
        let until = Instant::now() + BACK_FOR;
        while Instant::now() < until {
            std::thread::sleep(LOOK_EVERY);
            let Some(port) =
                find::ports().unwrap_or_default().into_iter().find(|port| port.is_head)
            else {
                continue;
            };
            if let Ok(head) =
                Link::open(&port.name, None, None).and_then(|link| link.await_head(&port.name))
            {
                return told(image, &head, &port.name);
            }
        }
        bail!(
            "The file was copied, and no head came up in {} s. Unplug the board and plug it in again, then run `skimgauge ports`.",
            BACK_FOR.as_secs()
        )
    }

    fn agreed(&self, question: &str) -> anyhow::Result<bool> {
        if self.yes {
            return Ok(true);
        }
        println!("{question}");
        std::io::stdout().flush().context("Nobody reads the output.")?;
        let line = input::lines(std::io::stdin().lock()).next().unwrap_or_default();
        Ok(line.trim().eq_ignore_ascii_case("yes"))
    }

    /// The drive that came after the head went into its boot loader.
    fn await_drive(&self, before: &[PathBuf]) -> anyhow::Result<PathBuf> {
        let until = Instant::now() + DRIVE_FOR;
        let mut said = false;
        while Instant::now() < until {
            let found = match &self.drive {
                Some(drive) => drive::is_loader(drive).then(|| drive.clone()),
                None => drive::loaders().into_iter().find(|drive| !before.contains(drive)),
            };
            if let Some(drive) = found {
                return Ok(drive);
            }
            if !said && let Some(how) = drive::how_to_mount() {
                said = true;
                println!("Its drive is there and not mounted. In another terminal: {how}");
            }
            std::thread::sleep(LOOK_EVERY);
        }
        let named = self
            .drive
            .as_ref()
            .map_or_else(|| "RPI-RP2".to_owned(), |drive| drive.display().to_string());
        bail!(
            "The head was asked into its boot loader, and its drive {named} did not show in {} s. Nothing was written: unplug the head \
             and plug it in again, and it runs as before. Or mount the drive and copy {} onto it; or run this again with \
             --drive DIR.",
            DRIVE_FOR.as_secs(),
            self.file.display()
        )
    }

    fn copy(&self, image: &Image, drive: &Path) -> anyhow::Result<()> {
        println!("Writing to {}. Leave the cable in.", drive.display());
        // The boot loader goes by the contents.
        let target = drive.join(beside::NAME);
        // A boot loader's drive takes one file in one go: nothing could be made beside it and
        // moved. What an earlier try left there goes first; any other file of that name
        // stays.
        output::remove(&target, UF2)?;
        let mut file = Outputs::new(Replace::Never)
            .sparing(&self.file, "the firmware file")
            .stream(&target, UF2)?;
        let written = file.write_all(&image.file).and_then(|()| file.sync_all());
        match written {
            // The board restarts on the last block, before the system has put its books in order.
            Err(error) if drives::is_gone(&error) || !drive::is_loader(drive) => Ok(()),
            Err(error) => Err(error).with_context(|| {
                format!(
                    "{} could not be written whole. The head stays in its boot loader: run this again, or copy {} onto the \
                     drive.",
                    target.display(),
                    self.file.display()
                )
            }),
            Ok(()) => Ok(()),
        }
    }

    fn verify(
        &self,
        image: &Image,
        port: &str,
        before: Option<&HeadIs>,
        entered: Instant,
    ) -> anyhow::Result<Ended> {
        let serial: Option<SerialNumber> = before.and_then(|head| head.hello.serial);
        let until = Instant::now() + BACK_FOR;
        let mut last = None;
        while Instant::now() < until {
            std::thread::sleep(LOOK_EVERY);
            let port = find::port_of(serial).unwrap_or_else(|| port.to_owned());
            match Link::open(&port, serial, None).and_then(|link| link.await_head(&port)) {
                // Its clock began anew, so it is not the old start that answers.
                Ok(head) if before.is_some_and(|before| went_on(before, &head, entered)) => {
                    last = Some(format!("The head on {port} went on without a restart."));
                }
                Ok(head) => return told(image, &head, &port),
                Err(trouble) => last = Some(trouble.to_string()),
            }
        }
        bail!(
            "The file was copied, and the head did not come back in {} s. {} Unplug it, plug it in again, and run \
             `skimgauge ports`. If it does not answer then: {BY_BUTTON}",
            BACK_FOR.as_secs(),
            last.unwrap_or_default()
        )
    }
}

/// How a person gets a head into its boot loader.
pub(super) const BY_BUTTON: &str = "Unplug the head, hold the button on its board (BOOTSEL) while plugging it in, let go, and run \
                         `skimgauge ports --flash FILE` again.";

/// Whether the head's clock went on from before it was asked into its boot loader.
fn went_on(before: &HeadIs, now: &HeadIs, entered: Instant) -> bool {
    let since = entered.elapsed();
    let up = Duration::from_micros(now.hello.at.0);
    // A head that has just started has been up for less time than has passed since.
    now.hello.at >= before.hello.at && up > since + Duration::from_secs(1)
}

/// What the head that came back says of its firmware.
fn told(image: &Image, head: &HeadIs, port: &str) -> anyhow::Result<Ended> {
    let name = head.hello.serial.map_or_else(|| "The head".to_owned(), |serial| serial.to_string());
    let runs = head.hello.firmware;
    if runs != image.version {
        bail!(
            "{name} is back on {port} with firmware {runs}, not {}: the file did not get into its flash. {BY_BUTTON}",
            image.version
        );
    }
    println!("{name} is back on {port} with firmware {runs}.");
    Ok(Ended::Well)
}

/// The new version beside the old.
fn compared(new: Version, old: Version) -> &'static str {
    let order = |version: Version| (version.major, version.minor, version.patch);
    match order(new).cmp(&order(old)) {
        Ordering::Greater => "newer",
        Ordering::Equal => "the same version",
        Ordering::Less => "OLDER than what the head has",
    }
}

/// Who is at the port. A head that speaks otherwise is one that wants another firmware.
fn found(port: &str) -> anyhow::Result<Found> {
    let link = Link::open(port, None, None)?;
    match link.await_head(port) {
        Ok(head) => Ok(Found::Known(link, head)),
        Err(Trouble::Refused { why: Refused::Protocol { theirs }, .. }) => {
            println!("The head on {port} speaks protocol {theirs}, this program {PROTOCOL}.");
            Ok(Found::Stranger)
        }
        Err(Trouble::Refused { why: Refused::Schema, .. }) => {
            println!("The firmware of the head on {port} and this program do not belong together.");
            Ok(Found::Stranger)
        }
        Err(other) => Err(other.into()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn versions_compare_by_their_numbers_not_their_letters() {
        let version = |major, minor, patch| Version { major, minor, patch };
        assert_eq!(compared(version(0, 10, 0), version(0, 9, 9)), "newer");
        assert_eq!(compared(version(0, 1, 0), version(0, 1, 0)), "the same version");
        assert_eq!(compared(version(1, 0, 0), version(1, 0, 1)), "OLDER than what the head has");
    }

    #[test]
    fn a_file_that_is_none_is_refused_before_any_port_is_opened() {
        let file = tempfile::NamedTempFile::new().unwrap();
        std::fs::write(&file, [0; 512]).unwrap();
        let path = file.path().to_path_buf();
        let flash = Flash {
            file: path,
            port: Some("/dev/ttyNOSUCH0".into()),
            drive: None,
            yes: true,
            unattended: false,
        };
        let why = flash.run().unwrap_err().to_string();
        assert!(
            why.contains("does not go onto a head: block 0 is no UF2 block")
                && why.contains("Nothing was written")
        );
    }
}
