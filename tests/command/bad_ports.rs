//! `watch` at a port that will not do: one sentence, exit status 2.

use crate::{place, said};
use skimgauge_shared::frame::{MAX_FRAME, encode};
use skimgauge_shared::message::{PROTOCOL, Report};
use skimgauge_tests::command::Place;
use skimgauge_tests::plugged::{Plugged, Stranger};
use skimgauge_tests::stream;
use std::time::Duration;

fn watch_at(place: &Place, port: &str) -> String {
    let output = place.run(crate::json_at("watch", port));
    said(&output)
}

#[test]
fn no_such_port() {
    let text = watch_at(&place(), "/dev/ttyNOSUCH0");
    assert_eq!(
        text,
        "There is no port /dev/ttyNOSUCH0. Plug the head in; `skimgauge ports` shows where heads are.\n"
    );
}

#[test]
fn a_file_or_a_folder_or_a_device_that_is_no_port() {
    let place = place();
    for port in ["job.toml", ".", if cfg!(windows) { "NUL" } else { "/dev/null" }] {
        assert_eq!(
            watch_at(&place, port),
            format!("{port} is not a serial port. `skimgauge ports` shows where heads are.\n")
        );
    }
}

#[test]
fn a_silent_port() {
    let silent = Stranger::silent();
    let text = watch_at(&place(), &silent);
    assert_eq!(
        text,
        format!(
            "Nothing answers on {silent}. Unplug the head, plug it in again, and check that its lamp blinks.\n"
        )
    );
}

#[test]
fn another_device() {
    let mut line = 0;
    let port = Stranger::new().says(Duration::from_millis(20), move || {
        line += 1;
        format!("$GPGGA,{line:06},,,,,0,00,,,M,,M,,*66\r\n").into_bytes()
    });
    let text = watch_at(&place(), &port);
    assert!(text.starts_with(&format!("What answers on {port} is no skimgauge head (")), "{text}");
    assert!(text.contains("Choose another port; `skimgauge ports` lists heads."), "{text}");
}

#[test]
fn garbage_and_a_flood_of_it() {
    let mut dice = skimgauge_bench::noise::Noise::new(81, 9);
    let port = Stranger::new()
        .says(Duration::from_millis(1), move || (0..3_000).map(|_| dice.bits() as u8).collect());
    let text = watch_at(&place(), &port);
    assert!(text.starts_with(&format!("What answers on {port} is no skimgauge head (")), "{text}");
}

#[test]
fn another_version_of_the_protocol() {
    for (theirs, remedy) in
        [(PROTOCOL + 1, "Install a newer skimgauge."), (0, "Flash newer firmware onto the head.")]
    {
        let mut hello = stream::hello();
        hello.protocol = theirs;
        let mut buffer = [0; MAX_FRAME];
        let frame = encode(&Report::Hello(hello), &mut buffer).unwrap().to_vec();
        let port = Stranger::new().says(Duration::from_millis(100), move || frame.clone());
        let text = watch_at(&place(), &port);
        assert_eq!(
            text,
            format!(
                "The head on {port} speaks protocol {theirs}, this program speaks {PROTOCOL}. {remedy}\n"
            )
        );
    }
}

#[test]
fn a_port_that_another_program_has() {
    let (first, second, head) = (place(), place(), Plugged::new(82));
    let mut watch = first.watch(head.port(), &["--json"]);
    watch.live("a greeting answered", |line| line["link"] == "up");
    let text = watch_at(&second, head.port());
    assert_eq!(
        text,
        format!(
            "Port {} is in use by another program. Close that program (another skimgauge, a terminal), then try again.\n",
            head.port()
        )
    );
    // The first is not disturbed.
    watch.settled("top left");
    let end = watch.quit();
    assert!(
        end.json("live")
            .iter()
            .skip_while(|line| line["link"] != "up")
            .all(|line| line["link"] == "up"),
        "{end:?}"
    );
}

/// As an account that may not open the port. Needs root to become such an account; elsewhere it
/// says that it did not run. Windows lets every account open a port.
#[cfg(unix)]
#[test]
fn a_port_without_permission_names_the_group() {
    use std::os::unix::fs::PermissionsExt;
    let nobody = ["setpriv", "--reuid=65534", "--regid=65534", "--clear-groups"];
    let able = std::process::Command::new(nobody[0]).args(&nobody[1..]).arg("true").status();
    if !able.is_ok_and(|status| status.success()) {
        eprintln!(
            "SKIPPED: a port without permission; this account cannot become another (run it as root, with setpriv)"
        );
        return;
    }
    let (place, silent) = (place(), Stranger::new());
    std::fs::set_permissions(place.path(""), std::fs::Permissions::from_mode(0o777)).unwrap();
    std::fs::set_permissions(silent.port(), std::fs::Permissions::from_mode(0o620)).unwrap();
    // The group that serial ports of this system belong to, or any that is not root's.
    let groups = std::fs::read_to_string("/etc/group").unwrap();
    let named = |name: &str| groups.lines().find(|line| line.starts_with(name)).map(str::to_owned);
    let line = named("dialout:").or_else(|| named("uucp:")).or_else(|| named("tty:")).unwrap();
    let mut fields = line.split(':');
    let (group, gid) = (fields.next().unwrap(), fields.nth(1).unwrap().parse().unwrap());
    std::os::unix::fs::chown(silent.port(), None, Some(gid)).unwrap();
    // The command where that account can reach it.
    let exe = place.path("skimgauge");
    std::fs::copy(crate::EXE, &exe).unwrap();
    let mut command = std::process::Command::new(nobody[0]);
    command
        .args(&nobody[1..])
        .arg(&exe)
        .args([
            "watch",
            "--job",
            "job.toml",
            "--record",
            "record.sqlite",
            "--json",
            "--head",
            &silent.port(),
        ])
        .current_dir(place.path(""))
        .env("HOME", place.path(""))
        .stdin(std::process::Stdio::null())
        .stdout(std::process::Stdio::piped())
        .stderr(std::process::Stdio::piped());
    let text = said(&skimgauge_tests::command::started(&mut command).wait_with_output().unwrap());
    assert_eq!(
        text,
        format!(
            "You may not open {}. Join the group `{group}`: run `sudo usermod -a -G {group} $USER`, then log out and in.\n",
            silent.port()
        )
    );
}
