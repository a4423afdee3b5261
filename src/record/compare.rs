//! Two accounts of one ride, what was kept and what a replay gives, and each difference between them by file, line and
//! column.

use std::fmt;

use super::table::{Table, split, write_line};

/// So many differences are told one by one; further ones are only counted.
pub const DIFFERENCES_KEPT: usize = 200;

/// So far ahead a line that was left out or put in is looked for, lines.
const LOOK_AHEAD: usize = 64;

/// One thing that is not the same.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Difference {
    /// The file of the recording.
    pub file: String,
    /// The line in it, from 1; none where there is none.
    pub line: Option<u64>,
    /// The column, where one cell differs.
    pub column: Option<&'static str>,
    /// What was kept.
    pub kept: String,
    /// What the replay gives.
    pub replayed: String,
}

impl fmt::Display for Difference {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (file, kept, replayed) = (&self.file, &self.kept, &self.replayed);
        f.write_str(&match (self.line, self.column) {
            (Some(line), Some(column)) => {
                kept!("{file}, line {line}, {column}: kept {kept}, replayed {replayed}")
            }
            (Some(line), None) => kept!("{file}, line {line}: kept {kept}, replayed {replayed}"),
            (None, Some(column)) => kept!("{file}, {column}: kept {kept}, replayed {replayed}"),
            (None, None) => kept!("{file}: kept {kept}, replayed {replayed}"),
        })
    }
}

/// The differences of a recording. Bounded: the first [`DIFFERENCES_KEPT`] are kept, the rest counted.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Differences {
    /// The first of them.
    pub told: Vec<Difference>,
    /// How many there are.
    pub count: u64,
    /// What is worth saying and no difference.
    pub remarks: Vec<String>,
}

impl Differences {
    /// Adds one.
    pub fn add(&mut self, difference: Difference) {
        self.count += 1;
        if self.told.len() < DIFFERENCES_KEPT {
            self.told.push(difference);
        }
    }

    /// Adds one of a whole line, or of a thing that is no cell.
    pub fn line(&mut self, file: &str, line: Option<u64>, kept: &str, replayed: &str) {
        self.add(Difference {
            file: file.to_owned(),
            line,
            column: None,
            kept: shown(kept),
            replayed: shown(replayed),
        });
    }

    /// Adds a remark, as long as there are not too many.
    pub fn remark(&mut self, text: String) {
        if self.remarks.len() < DIFFERENCES_KEPT {
            self.remarks.push(text);
        }
    }
}

/// Nothing on one of the two sides.
pub const NOTHING: &str = entry!("nothing");

/// A text on one line and not too long.
fn shown(text: &str) -> String {
    let mut letters = text.chars();
    let start: String = letters
        .by_ref()
        .take(300)
        .map(|letter| {
            if letter.is_control() {
                '\u{FFFD}'
            } else {
                letter
            }
        })
        .collect();
    match (start.is_empty(), letters.next()) {
        (true, _) => NOTHING.to_owned(),
        (_, None) => start,
        (_, Some(_)) => format!("{start}…"),
    }
}

/// What may stand at the end of a file beyond the other side's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tail {
    /// Nothing: both must end together.
    None,
    /// More may have been kept: notes are added after a ride.
    Kept,
    /// Either may be longer: the log ends before the ride does.
    Either,
}

/// One line of a kept table: where it stands, as it is, and its cells in the order of this program's columns.
struct Kept<'a> {
    number: u64,
    raw: &'a str,
    /// None where the file has no such column.
    cells: Vec<Option<String>>,
}

/// Compares a kept table with the lines that a replay gives, each as it would be written, without line ends. Kept lines
/// for which `own` is true, given their cells, are the writer's own and passed over.
pub fn compare_table<T: Table>(
    kept: &[u8],
    replayed: &[String],
    tail: Tail,
    own: impl Fn(&dyn Fn(&str) -> String) -> bool,
    into: &mut Differences,
) {
    let text = String::from_utf8_lossy(kept);
    let mut lines: Vec<&str> = text.split('\n').collect();
    // A whole file ends with a line end, behind which nothing is left.
    let torn = lines.pop().is_some_and(|last| !last.is_empty());
    if torn {
        let number = lines.len() as u64 + 1;
        into.line(
            T::FILE,
            Some(number),
            entry!("a line that is cut off"),
            entry!("a whole one"),
        );
    }
    let Some((header, lines)) = lines.split_first() else {
        into.line(T::FILE, None, entry!("no header line"), entry!("one"));
        return;
    };
    let ours: Vec<&str> = T::COLUMNS.iter().map(|column| column.name).collect();
    let theirs = split(header.as_bytes()).unwrap_or_default();
    // A file of before some columns is compared to the letter in those that it has.
    let old = !theirs.iter().any(|cell| T::ADDED.contains(&cell));
    let before: Vec<&str> = ours
        .iter()
        .copied()
        .filter(|name| !old || !T::ADDED.contains(name))
        .collect();
    let exact = *header == before.join(",");
    let places: Vec<_> = ours
        .iter()
        .map(|name| theirs.iter().position(|cell| cell == *name))
        .collect();
    if !exact {
        into.line(T::FILE, Some(1), header, &ours.join(","));
    }
    let cells = |line: &str| -> Vec<Option<String>> {
        let found = split(line.as_bytes()).unwrap_or_default();
        let cell = |place: &Option<usize>| place.map(|at| found.get(at).unwrap_or("").to_owned());
        places.iter().map(cell).collect()
    };
    let kept: Vec<Kept<'_>> = lines
        .iter()
        .zip(2..)
        .map(|(raw, number)| Kept {
            number,
            raw,
            cells: cells(raw),
        })
        .filter(|line| {
            let cell = |name: &str| {
                let at = ours.iter().position(|column| *column == name);
                at.and_then(|at| line.cells[at].clone()).unwrap_or_default()
            };
            !own(&cell)
        })
        .collect();
    if exact && before.len() < ours.len() {
        into.remark(kept!(
            "{file}: it was kept before there were the columns {columns}; the others are compared.",
            file = T::FILE,
            columns = T::ADDED.join(", ")
        ));
    }
    let again: Vec<Vec<String>> = replayed.iter().map(|line| ours_of(line)).collect();
    let shortened: Vec<String>;
    let replayed = if exact && before.len() < ours.len() {
        shortened = again.iter().map(|line| line_of(line, &places)).collect();
        &shortened
    } else {
        replayed
    };
    let same = |kept: &Kept<'_>, at: usize| {
        if exact {
            kept.raw == replayed[at]
        } else {
            cells_agree(&kept.cells, &again[at])
        }
    };
    walk(&kept, replayed.len(), same, |step| {
        match step {
        Step::Changed(kept, at) => changed::<T>(kept, &replayed[at], &again[at], into),
        Step::OnlyKept(line) => into.line(T::FILE, Some(line.number), line.raw, NOTHING),
        Step::OnlyReplayed(at) => into.line(T::FILE, None, NOTHING, &replayed[at]),
        Step::KeptTail(rest) if tail == Tail::None => {
            for line in rest {
                into.line(T::FILE, Some(line.number), line.raw, NOTHING);
            }
        }
        Step::KeptTail(rest) => into.remark(kept!(
            "{file}: {count} more lines were kept than the log reaches, from line {line} on; there is nothing to compare them with.",
            file = T::FILE,
            count = rest.len(),
            line = rest.first().map_or(0, |line| line.number)
        )),
        Step::ReplayedTail(from) if tail != Tail::Either => {
            for line in &replayed[from..] {
                into.line(T::FILE, None, NOTHING, line);
            }
        }
        Step::ReplayedTail(from) => into.remark(kept!(
            "{file}: the log reaches {count} lines further than what was kept.",
            file = T::FILE,
            count = replayed.len() - from
        )),
    }
    });
}

fn ours_of(line: &str) -> Vec<String> {
    let cells = split(line.as_bytes()).unwrap_or_default();
    cells.iter().map(str::to_owned).collect()
}

/// A line with only those cells that a file has a place for.
fn line_of(cells: &[String], places: &[Option<usize>]) -> String {
    let kept = cells
        .iter()
        .zip(places)
        .filter(|(_, place)| place.is_some());
    let mut line = Vec::with_capacity(128);
    // Writing to memory cannot fail.
    let _ = write_line(&mut line, kept.map(|(cell, _)| cell));
    line.pop();
    String::from_utf8_lossy(&line).into_owned()
}

fn cells_agree(kept: &[Option<String>], again: &[String]) -> bool {
    kept.iter()
        .zip(again)
        .all(|(kept, again)| kept.as_ref().is_none_or(|kept| kept == again))
}

/// One line that is another: its cells, or the form in which they are written.
fn changed<T: Table>(kept: &Kept<'_>, raw: &str, again: &[String], into: &mut Differences) {
    let mut any = false;
    for ((column, old), new) in T::COLUMNS.iter().zip(&kept.cells).zip(again) {
        if let Some(old) = old
            && old != new
        {
            any = true;
            into.add(Difference {
                file: T::FILE.to_owned(),
                line: Some(kept.number),
                column: Some(column.name),
                kept: shown(old),
                replayed: shown(new),
            });
        }
    }
    if !any {
        into.line(T::FILE, Some(kept.number), kept.raw, raw);
    }
}

enum Step<'s, K> {
    Changed(&'s K, usize),
    OnlyKept(&'s K),
    OnlyReplayed(usize),
    KeptTail(&'s [K]),
    ReplayedTail(usize),
}

/// Goes along both sides. Where they differ, lines that stand on one side only are looked for within a bound; where none
/// are found the line is a changed one.
fn walk<'s, K>(
    kept: &'s [K],
    replayed: usize,
    same: impl Fn(&K, usize) -> bool,
    mut tell: impl FnMut(Step<'s, K>),
) {
    let (mut i, mut j) = (0, 0);
    while i < kept.len() && j < replayed {
        if same(&kept[i], j) {
            i += 1;
            j += 1;
            continue;
        }
        let skip = (1..=LOOK_AHEAD).find_map(|ahead| {
            if kept.get(i + ahead).is_some_and(|line| same(line, j)) {
                Some((ahead, 0))
            } else if j + ahead < replayed && same(&kept[i], j + ahead) {
                Some((0, ahead))
            } else {
                None
            }
        });
        let next_agree = i + 1 < kept.len() && j + 1 < replayed && same(&kept[i + 1], j + 1);
        match skip {
            Some((of_kept, of_replayed)) if !next_agree => {
                kept[i..i + of_kept]
                    .iter()
                    .for_each(|line| tell(Step::OnlyKept(line)));
                (j..j + of_replayed).for_each(|at| tell(Step::OnlyReplayed(at)));
                i += of_kept;
                j += of_replayed;
            }
            _ => {
                tell(Step::Changed(&kept[i], j));
                i += 1;
                j += 1;
            }
        }
    }
    if i < kept.len() {
        tell(Step::KeptTail(&kept[i..]));
    }
    if j < replayed {
        tell(Step::ReplayedTail(j));
    }
}

/// Compares a kept text with another, line by line.
pub fn compare_text(file: &str, kept: &[u8], replayed: &str, into: &mut Differences) {
    if kept == replayed.as_bytes() {
        return;
    }
    let text = String::from_utf8_lossy(kept);
    let (old, new): (Vec<&str>, Vec<&str>) =
        (text.split('\n').collect(), replayed.split('\n').collect());
    let before = into.count;
    for at in 0..old.len().max(new.len()) {
        let (a, b) = (old.get(at), new.get(at));
        if a != b {
            let number = Some(at as u64 + 1);
            into.line(file, number, a.unwrap_or(&NOTHING), b.unwrap_or(&NOTHING));
        }
    }
    if into.count == before {
        into.line(file, None, entry!("bytes that are no text"), entry!("text"));
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::record::EventLine;

    const HEAD: &str = "ridden_s,plan_s,utc,what,detail\n";

    fn line(second: u32, what: &str) -> String {
        format!("{second}.000,{second}.000,2026-01-01T00:00:00.000Z,{what},")
    }

    fn differ(kept: &str, replayed: &[String], tail: Tail) -> Vec<String> {
        let mut found = Differences::default();
        let own = |cell: &dyn Fn(&str) -> String| cell("what") == "recording-closed";
        compare_table::<EventLine>(kept.as_bytes(), replayed, tail, own, &mut found);
        found.told.iter().map(Difference::to_string).collect()
    }

    #[test]
    fn a_changed_a_lost_and_an_added_line_are_told_by_their_place() {
        let whole: Vec<_> = (1..9).map(|second| line(second, "pause")).collect();
        let file = |lines: &[String]| format!("{HEAD}{}\n", lines.join("\n"));
        assert_eq!(differ(&file(&whole), &whole, Tail::None), [""; 0]);
        let mut changed = whole.clone();
        changed[2] = line(3, "resume");
        assert_eq!(
            differ(&file(&changed), &whole, Tail::None),
            ["events.csv, line 4, what: kept resume, replayed pause"]
        );
        let mut lost = whole.clone();
        lost.remove(4);
        assert_eq!(
            differ(&file(&lost), &whole, Tail::None),
            [format!("events.csv: kept nothing, replayed {}", whole[4])]
        );
        assert_eq!(
            differ(&file(&whole), &lost, Tail::None),
            [format!(
                "events.csv, line 6: kept {}, replayed nothing",
                whole[4]
            )]
        );
        let more = file(&[whole.clone(), vec![line(9, "recording-closed")]].concat());
        assert_eq!(differ(&more, &whole, Tail::None), [""; 0]);
        assert_eq!(differ(&file(&whole), &whole[..5], Tail::Kept), [""; 0]);
        assert_eq!(differ(&file(&whole), &whole[..5], Tail::None).len(), 3);
        assert_eq!(differ(&file(&whole[..5]), &whole, Tail::Kept).len(), 3);
    }

    #[test]
    fn a_cell_in_another_form_and_a_torn_line_are_differences() {
        let whole = [line(1, "pause")];
        let quoted = format!("{HEAD}{}\n", line(1, "\"pause\""));
        assert_eq!(differ(&quoted, &whole, Tail::None).len(), 1);
        let torn = format!("{HEAD}{}", line(1, "pause"));
        assert_eq!(differ(&torn, &whole, Tail::None).len(), 2);
        assert_eq!(differ("", &whole, Tail::None).len(), 1);
    }

    #[test]
    fn a_file_of_before_a_column_is_compared_to_the_letter_in_the_others() {
        use crate::record::Row;
        let cells = "1,1.000,2026-01-01T00:00:00.000Z,1,hold,target-power,,,,,,,200.0,90.0,,,,";
        let head: Vec<&str> = Row::COLUMNS.iter().map(|column| column.name).collect();
        let old = head[..head.len() - Row::ADDED.len()].join(",");
        let differ = |head: &str, line: &str| {
            let mut found = Differences::default();
            let again = [format!("{cells},meter,trainer,")];
            let kept = format!("{head}\n{line}\n");
            compare_table::<Row>(kept.as_bytes(), &again, Tail::None, |_| false, &mut found);
            (found.count, found.remarks.len())
        };
        assert_eq!(differ(&old, cells), (0, 1));
        for (head, line) in [
            (old.as_str(), cells.replace("200.0", "200.1")),
            (&old, cells.replace("hold", "\"hold\"")),
            (&old, format!("{cells},meter,trainer,")),
            // A column that was always there, or one that nobody knows.
            (&old.replace("kind", "sort"), cells.to_owned()),
            (&format!("{old},power_frOm"), format!("{cells},meter")),
        ] {
            assert!(differ(head, &line).0 > 0, "{head}: {line}");
        }
    }

    #[test]
    fn columns_are_found_by_name_in_a_file_of_another_program() {
        let kept = "what,new,utc,ridden_s,plan_s\npause,1,2026-01-01T00:00:00.000Z,1.000,1.000\n";
        let told = differ(kept, &[line(1, "pause")], Tail::None);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(told[0].starts_with("events.csv, line 1: kept what,new,"));
    }
}
