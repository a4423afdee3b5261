//! What is sent of a ride in which the program failed. Nothing in the core is there to bring that about; here the failure
//! comes in with an input, after the core has taken it.

use std::path::Path;

use stillroad::cli::export::export_with;
use stillroad::cli::replay::replay;
use stillroad::engine::Core;
use stillroad::engine::input::Input;
use stillroad::record::log::{LogItem, LogReader};
use stillroad::store::recording::Recording;
use stillroad::time::Instant;

#[test]
fn the_input_on_which_the_program_fails_is_the_last_of_the_file() {
    const FAILS_AT: usize = 400;
    let kept = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/recordings/sensors.zip");
    let kept = Recording::open(&kept).unwrap();
    let home = tempfile::tempdir().unwrap();
    let to = home.path().join("failed.zip");
    let mut count = 0;
    let mut handle = |core: &mut Core, now: Instant, input: Input| {
        core.handle(now, input);
        count += 1;
        assert!(count < FAILS_AT, "it fails");
    };
    export_with(&kept, &to, true, &mut handle).unwrap();
    assert_eq!(count, FAILS_AT, "nothing is handled after it");
    let sent = Recording::open(&to).unwrap();
    let mut reader = LogReader::new(sent.lines("raw.csv").unwrap().unwrap());
    let mut inputs = 0;
    while let Some(item) = reader.next_item().unwrap() {
        let LogItem::Line { line, sound, .. } = item else {
            panic!("{item:?}");
        };
        assert!(sound, "{line:?}");
        inputs += usize::from(Input::from_raw(&line.input, &line.content).is_ok());
    }
    assert_eq!(inputs, FAILS_AT);
    // What it came to until then is a recording that replays, and it holds rows.
    let replayed = replay(&sent, |_| {}).unwrap();
    assert!(replayed.lines[0] > 5, "{replayed:?}");
    assert_eq!(replayed.inputs, FAILS_AT as u64);
}
