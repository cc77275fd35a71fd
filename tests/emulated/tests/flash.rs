//! `skimgauge ports --flash` at the emulated head, a folder playing the boot loader's drive: the
//! emulated chip goes as far as the jump into the boot loader, and starts anew when power comes
//! back.
#![cfg(unix)]

use skimgauge_emulated_tests::{Folder, Plugged, plugged, skimgauge};
use skimgauge_emulator::{EmulatedHead, Restart, place};
use skimgauge_image::elf::{FLASH, Piece};
use skimgauge_image::{mark, uf2};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Output, Stdio};
use std::time::{Duration, Instant};

struct Rig {
    terminal: Plugged,
    folder: Folder,
}

impl Rig {
    fn new(seed: u64) -> Self {
        Self { terminal: plugged(seed), folder: Folder::new(&format!("flash-{seed}")) }
    }

    fn drive(&self) -> PathBuf {
        self.folder.path("RPI-RP2")
    }

    fn in_loader(&self) -> bool {
        self.terminal
            .with_head(|head: &mut EmulatedHead| head.figures().unwrap().loader_us.is_some())
            .unwrap()
    }

    /// Runs the command; meanwhile plays the board: the drive comes when the head has jumped, the
    /// head restarts when the file is there whole, and the drive goes. What was written, and
    /// what the command said.
    fn flash(&self, file: &Path, answer: &str) -> (Option<Vec<u8>>, Output) {
        let wanted = std::fs::read(file).unwrap();
        let mut child = skimgauge()
            .args(["ports", self.terminal.name(), "--unattended", "--drive"])
            .arg(self.drive())
            .arg("--flash")
            .arg(file)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The command may have refused before it asked.
        let _ = child.stdin.take().unwrap().write_all(answer.as_bytes());
        let until = Instant::now() + Duration::from_secs(60);
        let mut written = None;
        while child.try_wait().unwrap().is_none() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(100));
            if written.is_some() || !self.in_loader() {
                continue;
            }
            let drive = self.drive();
            if !drive.exists() {
                std::fs::create_dir_all(&drive).unwrap();
                std::fs::write(
                    drive.join("INFO_UF2.TXT"),
                    "UF2 Bootloader v3.0\r\nBoard-ID: RPI-RP2\r\n",
                )
                .unwrap();
            }
            let file = std::fs::read(drive.join("skimgauge-head.uf2")).unwrap_or_default();
            if file.len() >= wanted.len() {
                written = Some(file);
                std::fs::remove_dir_all(&drive).unwrap();
                self.terminal
                    .with_head(|head: &mut EmulatedHead| head.restart(Restart::Power))
                    .unwrap()
                    .unwrap();
            }
        }
        // Ended by itself, or it is at the end of its time.
        let _ = child.kill();
        (written, child.wait_with_output().unwrap())
    }
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8_lossy(bytes).into_owned()
}

#[test]
fn the_image_goes_onto_the_head_that_was_asked_and_its_version_is_verified() {
    let rig = Rig::new(51);
    let image = place::image().unwrap_or_else(|missing| panic!("{missing}"));

    // Not agreed to: the head stays as it is.
    let (written, output) = rig.flash(&image, "no\n");
    assert_eq!((written, output.status.code()), (None, Some(3)), "{output:?}");
    assert!(text(&output.stdout).contains("Nothing was written."), "{output:?}");
    assert!(!rig.in_loader());

    let (written, output) = rig.flash(&image, "yes\n");
    assert_eq!(output.status.code(), Some(0), "{output:?}");
    assert_eq!(written, Some(std::fs::read(&image).unwrap()));
    let said = text(&output.stdout);
    for shown in ["firmware 0.1.0", "the same version", "in its boot loader", "is back on"] {
        assert!(said.contains(shown), "{shown}: {said}");
    }
}

#[test]
fn a_file_that_is_not_ours_or_not_whole_never_troubles_the_head() {
    let rig = Rig::new(52);
    let image =
        std::fs::read(place::image().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let mark = image.windows(15).position(|window| window == b"skimgauge image").unwrap();
    let mut other = image.clone();
    other[mark] = b'S';
    let mut flipped = image.clone();
    flipped[20 * 512 + 100] ^= 1;
    for (name, bytes, why) in [
        ("other.uf2", other, "not skimgauge's"),
        ("flipped.uf2", flipped, "it is damaged"),
        ("cut.uf2", image[..image.len() - 512].to_vec(), "incomplete"),
        ("half.uf2", image[..image.len() - 100].to_vec(), "no UF2"),
    ] {
        let file = rig.folder.path(name);
        std::fs::write(&file, bytes).unwrap();
        let (written, output) = rig.flash(&file, "yes\n");
        assert_eq!((written, output.status.code()), (None, Some(2)), "{name}: {output:?}");
        assert!(text(&output.stderr).contains(why), "{name}: {output:?}");
        assert!(!rig.in_loader(), "{name}");
    }
}

#[test]
fn a_head_that_comes_back_with_another_version_is_told() {
    let rig = Rig::new(53);
    let image =
        std::fs::read(place::image().unwrap_or_else(|missing| panic!("{missing}"))).unwrap();
    let mut flat = mark::flat(&uf2::read(&image).unwrap(), 1 << 20).unwrap();
    let at = flat.windows(15).position(|window| window == b"skimgauge image").unwrap();
    flat[at + 16] = 9;
    let nine = mark::sealed(&[Piece { address: FLASH.start, bytes: flat }]).unwrap().1;
    let file = rig.folder.path("nine.uf2");
    std::fs::write(&file, uf2::write(&[nine])).unwrap();
    let (written, output) = rig.flash(&file, "yes\n");
    assert!(written.is_some(), "{output:?}");
    assert_eq!(output.status.code(), Some(2), "{output:?}");
    assert!(text(&output.stdout).contains("firmware 9.1.0, newer"), "{output:?}");
    assert!(text(&output.stderr).contains("with firmware 0.1.0, not 9.1.0"), "{output:?}");
}
