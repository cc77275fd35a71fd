//! `ports`: find heads, walk the first start of one, put another firmware onto one.

mod check;

use crate::head::find::{self, Port};
use crate::head::flash::beside;
use crate::head::flash::steps::Flash;
use crate::head::link::Link;
use crate::lengths::Lengths;
use crate::outcome::{Ended, Outcome};
use skimgauge_session::HeadIs;
use skimgauge_session::Trouble;
use skimgauge_shared::message::CalibrationCheck;
use skimgauge_system::terminal::shown_json;
use std::path::PathBuf;

/// Find heads on this computer's ports, walk the first start of one, or put another firmware onto
/// one.
#[derive(Debug, clap::Args)]
pub struct Args {
    /// Ports to ask whatever their USB identity; without any, only those that USB shows as heads
    /// are asked.
    #[arg(value_hint = clap::ValueHint::FilePath)]
    ports: Vec<String>,
    /// Print JSON: an array of `{port, is_head, serial, firmware, calibration, calibration_date,
    /// problem}`. With --check, an object a line, the certificate last.
    #[arg(long)]
    json: bool,
    /// Put this firmware (a UF2) onto the head at PORT, or onto the one head that USB shows; without
    /// FILE the firmware that came with this program.
    #[arg(long, value_name = "FILE", conflicts_with = "json")]
    flash: Option<Option<PathBuf>>,
    /// Walk the first start of the head at this port: parts, signs of tilt, stand-off, eye, button, lamp,
    /// buzzer, zero. What is wrong is said with its part, wire and test point; what was found is written
    /// as the head's birth certificate. Exit status: 0 as it should be, 1 a fault, 3 not all seen.
    #[arg(long, value_name = "HEAD", conflicts_with_all = ["flash", "ports"], value_hint = clap::ValueHint::FilePath)]
    check: Option<String>,
    /// With --check, as often as wanted: leave a step out, and why, as in light="no halogen lamp".
    #[arg(long, value_name = "STEP=REASON", requires = "check", value_parser = check::left_out)]
    skip: Vec<check::LeftOut>,
    /// With --check: the certificate's name, to which .json and .html are added; without this, one made
    /// of the head's serial number and the day. An earlier certificate is never written over.
    #[arg(long, value_name = "NAME", requires = "check")]
    out: Option<PathBuf>,
    /// With --check: who does it; without this, the account's name.
    #[arg(long, value_name = "NAME", requires = "check")]
    by: Option<String>,
    /// With --check: lines instead of the screen.
    #[arg(long, requires = "check", conflicts_with = "json")]
    plain: bool,
    /// With --flash: do not ask.
    #[arg(long, requires = "flash")]
    yes: bool,
    /// With --flash: nobody is at the head; do not wait for a press of its button.
    #[arg(long, requires = "flash")]
    unattended: bool,
    /// With --flash: the folder at which the boot loader's drive is mounted, where it is not found
    /// by itself.
    #[arg(long, value_name = "DIR", requires = "flash")]
    drive: Option<PathBuf>,
}

/// The firmware's file. Where a port was named in its place, says how both are told.
fn not_a_port(file: PathBuf) -> anyhow::Result<PathBuf> {
    let is_port = file.to_str().is_some_and(|name| {
        find::ports().is_ok_and(|ports| ports.iter().any(|port| port.name == name))
    });
    anyhow::ensure!(
        !is_port,
        "{} is a port, and --flash wants a file. For the firmware that came with this program name the port first: \
         skimgauge ports {} --flash.",
        file.display(),
        file.display()
    );
    Ok(file)
}

struct Row {
    port: String,
    asked: bool,
    product: Option<String>,
    head: Option<Result<Box<HeadIs>, Trouble>>,
}

/// Lists ports and asks heads who they are.
///
/// # Errors
/// The system cannot list its ports; with --flash, what went wrong and what to do.
pub fn run(args: Args, units: Lengths) -> Outcome {
    if let Some(port) = &args.check {
        return check::run(&args, port, units);
    }
    if let Some(file) = args.flash {
        let mut ports = args.ports.into_iter();
        let port = ports.next();
        anyhow::ensure!(ports.next().is_none(), "One head at a time: name one port with --flash.");
        let Args { drive, yes, unattended, .. } = args;
        let file = file.map_or_else(beside::image, not_a_port)?;
        return Flash { file, port, drive, yes, unattended }.run();
    }
    let ports = if args.ports.is_empty() {
        find::ports()
            .map_err(|why| anyhow::anyhow!("This computer cannot list its ports: {why}."))?
    } else {
        let named = |name: String| Port { name, is_head: true, product: None, usb_serial: None };
        args.ports.into_iter().map(named).collect()
    };
    let rows: Vec<Row> = ports.into_iter().map(ask).collect();
    let found = rows.iter().filter(|row| matches!(row.head, Some(Ok(_)))).count();
    if args.json {
        let rows: Vec<_> = rows.iter().map(json).collect();
        println!("{}", shown_json(&serde_json::to_string_pretty(&rows)?));
    } else if rows.is_empty() {
        println!("No serial ports. Plug a head in.");
    } else {
        rows.iter().for_each(print);
        if found == 0 {
            println!("No head answered. Plug one in, or name its port: skimgauge ports PORT.");
        }
    }
    Ok(if found > 0 { Ended::Well } else { Ended::Unsure })
}

fn ask(port: Port) -> Row {
    let head = port
        .is_head
        .then(|| Link::open(&port.name, None, None).and_then(|link| link.await_head(&port.name)));
    Row { port: port.name, asked: port.is_head, product: port.product, head }
}

fn calibration(head: &HeadIs) -> &'static str {
    match head.hello.calibration {
        CalibrationCheck::Good => "good",
        CalibrationCheck::Missing => "missing",
        CalibrationCheck::Damaged => "damaged",
        CalibrationCheck::OtherHead => "of another head",
        CalibrationCheck::Unreadable => "unreadable",
    }
}

fn zeroed_on(head: &HeadIs) -> Option<String> {
    (head.hello.calibration == CalibrationCheck::Good)
        .then(|| head.calibration.calibration.date.to_string())
}

fn serial(head: &HeadIs) -> Option<String> {
    head.hello.serial.map(|serial| serial.to_string())
}

fn json(row: &Row) -> serde_json::Value {
    let head = row.head.as_ref().and_then(|head| head.as_ref().ok());
    let problem = row.head.as_ref().and_then(|head| head.as_ref().err());
    serde_json::json!({
        "port": row.port,
        "is_head": head.is_some(),
        "serial": head.and_then(|head| serial(head)),
        "firmware": head.map(|head| head.hello.firmware.to_string()),
        "calibration": head.map(|head| calibration(head)),
        "calibration_date": head.and_then(|head| zeroed_on(head)),
        "problem": problem.map(ToString::to_string),
    })
}

fn print(row: &Row) {
    match &row.head {
        Some(Ok(head)) => {
            let zeroed = zeroed_on(head).map_or_else(
                || {
                    format!(
                        "calibration {}: zero it before use (skimgauge zero)",
                        calibration(head)
                    )
                },
                |date| format!("zeroed {date}"),
            );
            let serial = serial(head).unwrap_or_else(|| "without a serial number".to_owned());
            println!("{}  head {serial}  firmware {}  {zeroed}", row.port, head.hello.firmware);
        }
        Some(Err(trouble)) => println!("{}  {trouble}", row.port),
        None => {
            debug_assert!(!row.asked);
            println!(
                "{}  not a head ({}); not asked",
                row.port,
                row.product.as_deref().unwrap_or("no USB identity")
            );
        }
    }
}
