//! A proof judged again, from its file.

use super::judged;
use crate::jobs;
use crate::keeping::same_job::{same_image, size};
use crate::report;
use anyhow::{Context, ensure};
use serde::Serialize;
use skimgauge_jobfile::JobFile;
use skimgauge_procedure::proof::Made;
use skimgauge_proof::limits::Limits;
use skimgauge_proof::raw::Proof;
use skimgauge_record::chain::Hash;
use skimgauge_system::input;
use std::path::Path;

/// The file that a proof was judged from: it says what whoever wrote it wrote.
#[derive(Debug, Serialize)]
pub(super) struct FromFile {
    file: String,
    sha256: Hash,
}

impl FromFile {
    /// Above the verdict.
    pub(super) fn says(&self) -> String {
        let says = format!(
            "From the file {} (SHA-256 {}), not from touch: judged again as it is written there, and anybody can write a file. Nothing \
             of it is kept in a record.",
            self.file, self.sha256
        );
        report::paragraph("", &says)
    }
}

/// The proof in this file, judged by what was allowed when it was made, or by this job file.
///
/// # Errors
/// The file is none that can be judged, or of another image than the job file's.
pub(super) fn again(from: &Path, job: Option<&Path>) -> anyhow::Result<(Made, FromFile)> {
    let bytes = input::read(from, input::PROOF)
        .with_context(|| format!("The proof {} cannot be read.", from.display()))?;
    let mut proof: Proof = serde_json::from_slice(&bytes).map_err(|error| {
        anyhow::anyhow!(
            "{} is no proof that this program can read ({error}). `skimgauge prove --save` writes one.",
            from.display()
        )
    })?;
    if let Some(path) = job {
        let (job, _) = jobs::read_early(path)?;
        by_job(&mut proof, &job).with_context(|| {
            format!("{} cannot be judged by {}.", from.display(), path.display())
        })?;
    }
    let made = judged(proof).with_context(|| format!("{} cannot be judged.", from.display()))?;
    Ok((made, FromFile { file: from.display().to_string(), sha256: Hash::of(&bytes) }))
}

/// The proof is to be judged by what this job file allows.
fn by_job(proof: &mut Proof, job: &JobFile) -> anyhow::Result<()> {
    ensure!(
        same_image(proof.image, job.image),
        "The proof was made on an image of {}, and the job file's is {}: that is another. Without --job it is judged by what was allowed when it was made.",
        size(proof.image),
        size(job.image)
    );
    // The marks stood where they stood.
    let inset = proof.limits.inset;
    proof.limits = Limits { inset, ..job.touch.unwrap_or_default() };
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use skimgauge_proof::finger::{Ailment, Display, Finger, Hand, begun, played};
    use skimgauge_proof::limits::Tool;
    use skimgauge_proof::raw::Gap;
    use skimgauge_quantity::Mm;

    fn job(change: impl Fn(&str) -> String) -> JobFile {
        JobFile::read("job file", &change(skimgauge_jobfile::demo_job())).unwrap()
    }

    /// A proof on the demo's image, by its limits.
    fn proof() -> Proof {
        let job = job(str::to_owned);
        let limits = Limits { inset: 0.1, ..Limits::default() };
        let allowed = limits.of(Tool::Rod);
        let proof = begun(job.image, Tool::Rod, limits, Gap::Within);
        let mut finger =
            Finger::new(Display::with(Ailment::Well, allowed), Hand::with(Tool::Rod), 11);
        played(&mut finger, proof, &[], Vec::new())
    }

    #[test]
    fn a_proof_is_judged_again_by_what_the_job_file_allows() {
        let tighter = job(|text| format!("{text}\n[touch]\nrod = \"1.2 mm\"\n"));
        let mut again = proof();
        by_job(&mut again, &tighter).unwrap();
        assert_eq!((again.limits.rod.limit, again.limits.inset), (Mm(1.2), 0.1));
        assert_eq!(judged(again).unwrap().judged.limit, Mm(1.2));
    }

    #[test]
    fn a_proof_of_another_image_is_refused_by_both_sizes() {
        let mut proof = proof();
        proof.image.width = Mm(proof.image.width.0 - 100.0);
        let other = size(proof.image);
        let why = by_job(&mut proof, &job(str::to_owned)).unwrap_err().to_string();
        assert!(why.contains(&other) && why.contains("is another"), "{why}");
    }
}
