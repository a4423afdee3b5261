//! When each write was due, and when it was answered: a second core is fed with the ride's raw inputs and asked.

use stillroad::device::{Event, Request};
use stillroad::engine::Core;
use stillroad::engine::input::{Input, Output};
use stillroad::gatt::uuid16::CONTROL_POINT;
use stillroad::record::log::word;
use stillroad::record::{InputLine, decode};
use stillroad::time::Instant;

use crate::ride::Ridden;

/// A write of the second core.
pub struct Write {
    /// The deadline that the core had named, or the stamp of what it answers to.
    pub due: Instant,
    /// The loop's time when it was made.
    pub made: Instant,
    pub bytes: Vec<u8>,
    /// When the write response came.
    pub acknowledged: Option<Instant>,
    /// When the indication came.
    pub answered: Option<Instant>,
}

/// Every write to the control point in a ride's raw inputs.
///
/// # Errors
/// A sentence where they cannot be read.
pub fn writes(raw: &[u8]) -> Result<Vec<Write>, String> {
    let lines = decode::<InputLine>(raw).map_err(|error| error.to_string())?;
    if lines.bad_lines > 0 || lines.records.is_empty() {
        let problems = lines.problems;
        return Err(format!("the raw inputs cannot be read: {problems:?}"));
    }
    let mut core = Core::new(0);
    let mut writes: Vec<Write> = Vec::new();
    for line in lines.records {
        // The head, what the core asked for and the end are no inputs.
        if matches!(&*line.input, word::HEAD | word::ASKED | word::CLOSED) {
            continue;
        }
        let made = Instant(line.at_us);
        // A deadline that is past when an event is handled is acted on with it.
        let due = core.poll_timeout().map_or(made, |due| due.min(made));
        let input = Input::from_raw(&line.input, &line.content)?;
        match (&input, writes.last_mut()) {
            (Input::Device(Event::Written(_, CONTROL_POINT, Ok(()))), Some(last)) => {
                last.acknowledged.get_or_insert(made);
            }
            (Input::Device(Event::Notified(_, CONTROL_POINT, answer)), Some(last))
                if answer.get(1) == last.bytes.first() =>
            {
                last.answered.get_or_insert(made);
            }
            _ => {}
        }
        core.handle(made, input);
        while let Some(output) = core.poll_output() {
            if let Output::Request(Request::Write(_, CONTROL_POINT, bytes)) = output {
                writes.push(Write {
                    due,
                    made,
                    bytes,
                    acknowledged: None,
                    answered: None,
                });
            }
        }
    }
    Ok(writes)
}

/// From each write's due time until it reached the backend, microseconds.
///
/// # Errors
/// A sentence where the second core does not write the same.
pub fn late(ridden: &Ridden) -> Result<Vec<u64>, String> {
    let again = writes(&ridden.raw)?;
    if again.len() < ridden.writes.len() {
        return Err(format!(
            "{} writes were made, and the second core makes {}",
            ridden.writes.len(),
            again.len()
        ));
    }
    let mut late = Vec::new();
    for (write, (at, written)) in again.iter().zip(&ridden.writes) {
        if write.bytes != *written {
            return Err(format!(
                "{written:02x?} was written, and the second core writes {:02x?}",
                write.bytes
            ));
        }
        late.push(at.since(write.due).0);
    }
    Ok(late)
}
