//! The leader's own recordings of cues, in place of the system's voice.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;

use crate::cue::recorded::{bound, outdated};
use crate::plan::Plan;
use crate::plan::fit::changes_of;
use crate::store::cue_recordings::{self, CueRecording};
use crate::text::translated;

/// Clips that are kept ready; the oldest goes and is read again when it is due. At most 21 MB.
const KEPT: usize = 16;

/// The recordings of the session that is ridden.
pub(super) struct Recorded {
    /// The folders in which sessions lie, the first that has a cue counts.
    sessions: Vec<PathBuf>,
    plan: Option<Arc<Plan>>,
    known: Vec<CueRecording>,
    /// What was read: nothing where it could not be.
    kept: VecDeque<(u64, Option<Arc<[i16]>>)>,
    /// What is wrong with them, in a sentence.
    pub(super) trouble: Option<String>,
}

impl Recorded {
    pub(super) const fn new(sessions: Vec<PathBuf>) -> Self {
        Self {
            sessions,
            plan: None,
            known: Vec::new(),
            kept: VecDeque::new(),
            trouble: None,
        }
    }

    /// Looks for the recordings of a session that was not ridden before.
    pub(super) fn learn(&mut self, plan: &Arc<Plan>) {
        if self
            .plan
            .as_ref()
            .is_some_and(|known| Arc::ptr_eq(known, plan))
        {
            return;
        }
        self.plan = Some(Arc::clone(plan));
        self.known.clear();
        self.kept.clear();
        self.trouble = None;
        for sessions in &self.sessions {
            match cue_recordings::list(&cue_recordings::folder(sessions, &plan.name)) {
                Ok(found) => self.known.extend(found),
                Err(error) => self.trouble = Some(translated(&error.to_string()).into_owned()),
            }
        }
        let known: Vec<u64> = self.known.iter().map(|one| one.bound).collect();
        // A fitted session lacks cues that nobody changed.
        let written = changes_of(&plan.source).is_empty();
        match outdated(plan, &known) {
            1 if written => {
                self.trouble = Some(
                    word!(
                        "1 recording of a cue says words that were changed since, so its cue is spoken. `stillroad cues` lists \
                         the cue to record again."
                    )
                    .to_owned(),
                );
            }
            count if count > 1 && written => {
                self.trouble = Some(say!(
                    "{count} recordings of cues say words that were changed since, so their cues are spoken. `stillroad cues` \
                     lists the cues to record again.",
                    count
                ));
            }
            _ => {}
        }
    }

    /// Reads the recording of words that will be due in some seconds. The file is a megabyte at most and lies on the disk
    /// of the computer: it is read in a few milliseconds, on the thread of the sound alone.
    pub(super) fn prepare(&mut self, text: &str) {
        let wanted = bound(text);
        if self.kept.iter().any(|(kept, _)| *kept == wanted) {
            return;
        }
        let Some(one) = self.known.iter().find(|one| one.bound == wanted) else {
            return;
        };
        let samples = match cue_recordings::load(&one.path) {
            Ok(samples) => Some(Arc::from(samples)),
            Err(sentence) => {
                self.trouble = Some(translated(&sentence).into_owned());
                None
            }
        };
        if self.kept.len() == KEPT {
            self.kept.pop_front();
        }
        self.kept.push_back((wanted, samples));
    }

    /// The recording of words, where it is ready.
    pub(super) fn clip(&self, text: &str) -> Option<Arc<[i16]>> {
        let wanted = bound(text);
        let (_, clip) = self.kept.iter().find(|(kept, _)| *kept == wanted)?;
        clip.clone()
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]

    use super::*;
    use crate::cue::recorded::file_name;
    use crate::plan::read;

    fn plan(says: &str) -> Arc<Plan> {
        let text = format!(
            "format = 1\nname = \"Led\"\npurpose = \"p\"\n[[block]]\nkind = \"warm-up\"\ntime = \"8:00\"\neffort = 3\n\
             cue = [{{ at = \"0:30\", kind = \"do\", say = \"{says}\" }}]\n"
        );
        Arc::new(read(&text).plan.unwrap())
    }

    #[test]
    fn a_recording_is_played_for_its_words_and_for_no_others() {
        let home = cue_recordings::testing::room();
        let folder = cue_recordings::folder(home.path(), "Led");
        cue_recordings::save(&folder.join(file_name(1, "Up to six.")), &[7; 99]).unwrap();
        let mut recorded = Recorded::new(vec![home.path().to_owned()]);
        recorded.learn(&plan("Up to six."));
        assert_eq!(recorded.trouble, None);
        assert_eq!(recorded.clip("Up to six."), None, "not ready yet");
        recorded.prepare("Up to six.");
        recorded.prepare("Hold.");
        assert_eq!(recorded.clip("Up to six.").unwrap().len(), 99);
        assert_eq!(recorded.clip("Hold."), None);
        // The words change: the recording is left alone, and that is said.
        recorded.learn(&plan("Up to seven."));
        recorded.prepare("Up to seven.");
        assert_eq!(recorded.clip("Up to seven."), None);
        assert!(recorded.trouble.clone().unwrap().contains("changed since"));
    }

    #[test]
    fn a_recording_that_cannot_be_read_is_said_and_the_cue_left_to_the_voice() {
        let home = cue_recordings::testing::room();
        let path = cue_recordings::folder(home.path(), "Led").join(file_name(1, "Up to six."));
        cue_recordings::save(&path, &[]).unwrap();
        let mut recorded = Recorded::new(vec![home.path().to_owned()]);
        recorded.learn(&plan("Up to six."));
        recorded.prepare("Up to six.");
        assert_eq!(recorded.clip("Up to six."), None);
        assert!(recorded.trouble.unwrap().contains("nothing in it"));
    }
}
