//! Files that are no sessions at all, and sessions that are too large.

use stillroad::plan;

use crate::plan::{EVERY_KEY, problems_of};
use crate::plan_broken::refused;

#[test]
fn bad_bytes_get_a_sentence() {
    for (bytes, what) in [
        (&b""[..], "empty"),
        (b" \r\n\t\n", "empty"),
        (b"\x7fELF\x00\x01\x02", "zero byte"),
        (b"format = 1\nname = \"\xff\xfe\"", "not UTF-8"),
        (b"\xff\xfef\x00o\x00", "UTF-16"),
        (&[b'#'; 256 * 1024 + 1], "256 KiB is the most"),
    ] {
        let reading = plan::read_bytes(bytes);
        assert_eq!(reading.plan, None);
        assert_eq!(reading.problems.len(), 1, "{:?}", reading.problems);
        assert!(
            reading.problems[0].what.contains(what),
            "{:?}",
            reading.problems
        );
        assert!(!reading.problems[0].instead.is_empty());
    }
    assert_eq!(
        plan::read_bytes(b"format = 1\nname = \"\xff\"").problems[0].line,
        2
    );
    // A mark of byte order and the other system's line ends are nobody's fault.
    let foreign = format!("\u{feff}{}", EVERY_KEY.replace('\n', "\r\n"));
    let reading = plan::read_bytes(foreign.as_bytes());
    assert_eq!(reading.problems, []);
    assert_eq!(
        reading.plan.unwrap().blocks,
        plan::read(EVERY_KEY).plan.unwrap().blocks
    );
}

#[test]
fn sessions_stay_within_their_bounds() {
    let session = |repeat: u32, inner: u32, time: &str| {
        format!(
            "format = 1\nname = \"a\"\npurpose = \"b\"\n[[block]]\nrepeat = {repeat}\n[[block.block]]\nrepeat = {inner}\n[[block.block.block]]\nkind = \"hold\"\ntime = \"{time}\"\neffort = 3\n"
        )
    };
    refused(&session(100, 100, "0:01"), 1, "10000 blocks", "Repeat less");
    assert_eq!(
        plan::read(&session(100, 10, "0:01"))
            .plan
            .unwrap()
            .blocks
            .len(),
        1000
    );
    refused(&session(10, 10, "4:00"), 1, "6:40:00 long", "shorter");
    let cue = "[[block.block.block.cue]]\nat = \"0:00\"\nkind = \"do\"\nsay = \"x\"\n";
    refused(
        &(session(1, 1, "1:00") + &cue.repeat(41)),
        12 + 40 * 4,
        "41 cues",
        "Take some out",
    );
    let deeper = session(1, 1, "1:00").replace(
        "kind = \"hold\"\ntime",
        "repeat = 2\n[[block.block.block.block]]\nkind = \"hold\"\ntime",
    );
    refused(&deeper, 8, "sets may nest once", "");
    let long = |key: &str, count: usize| {
        EVERY_KEY.replacen(key, &format!("{key}{}", "x".repeat(count)), 1)
    };
    refused(&long("name = \"", 80), 2, "80 is the most", "shorter");
    refused(&long("purpose = \"", 400), 3, "400 is the most", "shorter");
    refused(&long("say = \"", 300), 23, "300 is the most", "shorter");
    let many: String = (0..150)
        .map(|number| format!("key{number}sandwich = 1\n"))
        .collect();
    let problems = problems_of(&many);
    assert_eq!(problems.len(), 101);
    // 150 unknown keys and four missing ones, of which a hundred are listed.
    assert_eq!(problems[100].what, "54 more problems are not listed.");
}
