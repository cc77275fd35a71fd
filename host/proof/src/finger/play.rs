//! A whole proof, played.

use super::{Finger, Setting};
use crate::limits::{Limits, Tool};
use crate::plan::{Ask, core, more};
use crate::raw::{Asked, Came, FORM, Gap, HeadGap, Proof, Window};
use skimgauge_model::Image;

/// An empty proof of a full screen.
pub fn begun(image: Image, tool: Tool, limits: Limits, gap: Gap) -> Proof {
    let window = Window::full(1920.0, 1920.0 / image.ratio());
    Proof {
        form: FORM,
        image,
        tool,
        limits,
        gap,
        left_out: Vec::new(),
        windows: vec![window],
        asked: Vec::new(),
        gaps: Vec::new(),
        paused: Vec::new(),
        simulated: true,
    }
}

fn setting_of(proof: &Proof) -> Setting {
    Setting { image: proof.image, inset: proof.limits.inset, window: proof.windows[0] }
}

/// What is asked, with the finger's answer to it.
fn answered(finger: &mut Finger, setting: &Setting, ask: &Ask, from_ms: f64) -> Asked {
    let answer = finger.answers(ask, setting, from_ms);
    let (to_ms, came, contacts) = (answer.to_ms, answer.came, answer.contacts);
    Asked { ask: ask.clone(), from_ms, to_ms, came, contacts }
}

/// Plays the taps at the marks alone, each once.
pub fn taps(finger: &mut Finger, mut proof: Proof) -> Proof {
    let setting = setting_of(&proof);
    let mut now_ms = 0.0;
    for ask in core(&proof.left_out).iter().filter(|ask| matches!(ask, Ask::Mark { .. })) {
        let asked = answered(finger, &setting, ask, now_ms);
        now_ms = asked.to_ms;
        proof.asked.push(asked);
    }
    proof
}

/// Plays a whole proof: the core, and the rest where that is not within; leaves where they are
/// given. A tap that is not seen is made again.
pub fn played(finger: &mut Finger, mut proof: Proof, leaves: &[Ask], gaps: Vec<HeadGap>) -> Proof {
    proof.gaps = gaps;
    let setting = setting_of(&proof);
    let mut now_ms = proof.asked.last().map_or(0.0, |asked| asked.to_ms);
    let mut play = |proof: &mut Proof, finger: &mut Finger, ask: &Ask| {
        for _ in 0..4 {
            let asked = answered(finger, &setting, ask, now_ms);
            let seen = asked.came == Came::Done;
            now_ms = asked.to_ms;
            proof.asked.push(asked);
            if seen {
                break;
            }
        }
    };
    for ask in core(&proof.left_out).iter().chain(leaves) {
        play(&mut proof, finger, ask);
    }
    let within = crate::judge::judge(&proof)
        .is_ok_and(|judged| judged.verdict == skimgauge_model::Verdict::Within);
    if !within {
        for ask in more(&proof.left_out) {
            play(&mut proof, finger, &ask);
        }
    }
    proof
}
