//! What came of jobs that were carried from one record to another.

use anyhow::Result;
use skimgauge_quantity::count;
use skimgauge_record::portable::Carried;
use skimgauge_system::terminal::shown;
use std::io::Write;

/// Says it, job by job.
pub(super) fn carried(jobs: &[Carried], out: &mut dyn Write) -> Result<()> {
    for carried in jobs {
        let name = shown(&carried.job);
        match carried.new_events {
            0 if carried.broken.is_none() => {
                writeln!(out, "\"{name}\": all of it is here already.")?;
            }
            n => writeln!(out, "\"{name}\": {}.", count(n, "event"))?,
        }
        if carried.namesake {
            writeln!(
                out,
                "  Another job here has the same name. Say which by its identity; this one's is {}.",
                carried.id.short()
            )?;
        }
        let Some(broken) = &carried.broken else { continue };
        writeln!(out, "  It breaks at event {}: {}.", broken.seq, shown(&broken.why))?;
        if carried.behind > 0 {
            writeln!(
                out,
                "  {} from behind the break, each whole in itself, saved and marked as such: what they follow is lost, so that they \
                 count for nothing.",
                count(carried.behind, "event")
            )?;
        }
        if carried.lost > 0 {
            writeln!(
                out,
                "  Left behind: {}, not what they were or gone.",
                count(carried.lost, "event")
            )?;
        }
    }
    Ok(())
}
