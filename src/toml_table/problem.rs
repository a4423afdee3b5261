//! Problems: what is wrong, what would be right, and where.

use std::fmt;

use serde::Serialize;

/// So many problems of a file are listed; the rest are counted.
pub const MOST_PROBLEMS: usize = 100;

/// How bad a problem is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// The file cannot be used.
    Error,
    /// The file can be used, but somebody should look.
    Warning,
}

impl Severity {
    /// As written before a problem.
    pub const fn key(self) -> &'static str {
        match self {
            Self::Error => entry!("error"),
            Self::Warning => entry!("warning"),
        }
    }
}

/// One problem in a file. Its text is safe to show: what it quotes from the file is clipped and without controls.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// How bad it is.
    pub severity: Severity,
    /// Its line, from 1.
    pub line: usize,
    /// Its column in characters, from 1.
    pub column: usize,
    /// What is wrong, in a sentence.
    pub what: String,
    /// What would be right, in a sentence.
    pub instead: String,
}

/// As a compiler writes it, after the file's name: `12:8: error: What is wrong. What would be right.`
impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (line, column) = (self.line, self.column);
        let severity = crate::text::word(self.severity.key());
        write!(
            f,
            "{line}:{column}: {severity}: {} {}",
            self.what, self.instead
        )
    }
}

/// Gathers the problems of one text. Bounded: after [`MOST_PROBLEMS`] they are only counted, and a last line says how
/// many were left out.
#[derive(Debug)]
pub struct Problems<'t> {
    text: &'t str,
    line_starts: Vec<usize>,
    list: Vec<Problem>,
    untold: usize,
    has_errors: bool,
}

impl<'t> Problems<'t> {
    /// For this text.
    pub fn new(text: &'t str) -> Self {
        let ends = text.bytes().enumerate().filter(|&(_, byte)| byte == b'\n');
        let mut line_starts = vec![0];
        line_starts.extend(ends.map(|(at, _)| at + 1));
        Self {
            text,
            line_starts,
            list: Vec::new(),
            untold: 0,
            has_errors: false,
        }
    }

    /// The text.
    pub fn text(&self) -> &'t str {
        self.text
    }

    /// An error at a byte of the text.
    pub fn error(&mut self, at: usize, what: impl Into<String>, instead: impl Into<String>) {
        self.push(Severity::Error, at, what.into(), instead.into());
    }

    /// A warning at a byte of the text.
    pub fn warning(&mut self, at: usize, what: impl Into<String>, instead: impl Into<String>) {
        self.push(Severity::Warning, at, what.into(), instead.into());
    }

    /// Whether there was any error so far, listed or only counted.
    pub fn has_errors(&self) -> bool {
        self.has_errors
    }

    fn push(&mut self, severity: Severity, at: usize, what: String, instead: String) {
        self.has_errors |= severity == Severity::Error;
        let (line, column) = self.position(at);
        let problem = Problem {
            severity,
            line,
            column,
            what,
            instead,
        };
        if self.list.contains(&problem) {
            return;
        }
        if self.list.len() < MOST_PROBLEMS {
            self.list.push(problem);
        } else {
            self.untold += 1;
        }
    }

    /// The line and column, from 1, of a byte of the text; a byte past its end or inside a character is moved back.
    pub fn position(&self, at: usize) -> (usize, usize) {
        let mut at = at.min(self.text.len());
        while !self.text.is_char_boundary(at) {
            at -= 1;
        }
        // A place after the last line end belongs to the line before it: editors show no line there.
        let after_last_end = at == self.text.len() && at > 0 && self.text.ends_with('\n');
        let line = match self.line_starts.partition_point(|&start| start <= at) {
            found if after_last_end => found - 1,
            found => found,
        };
        let start = self.line_starts[line - 1];
        let before = self.text[start..at].trim_end_matches('\n');
        (line, before.chars().count() + 1)
    }

    /// The byte at which the line of a byte begins, and the one at which it ends (its line end not included).
    pub fn line_of(&self, at: usize) -> (usize, usize) {
        let (line, _) = self.position(at);
        let start = self.line_starts[line - 1];
        let rest = &self.text[start..];
        (start, start + rest.find('\n').unwrap_or(rest.len()))
    }

    /// The same for the line of a byte with all that stands under it, up to the next heading.
    pub fn table_of(&self, at: usize) -> (usize, usize) {
        let (start, mut end) = self.line_of(at);
        while let Some(next) = end.checked_add(1).filter(|&next| next < self.text.len()) {
            let (line_start, line_end) = self.line_of(next);
            if self.text[line_start..line_end]
                .trim_start()
                .starts_with('[')
            {
                break;
            }
            end = line_end;
        }
        (start, end)
    }

    /// All problems in the order of the text.
    pub fn finish(mut self) -> Vec<Problem> {
        self.list
            .sort_by_key(|problem| (problem.line, problem.column, problem.severity));
        if self.untold > 0 {
            let (line, column) = self.position(self.text.len());
            let severity = if self.has_errors {
                Severity::Error
            } else {
                Severity::Warning
            };
            self.list.push(Problem {
                severity,
                line,
                column,
                what: say!("{count} more problems are not listed.", count = self.untold),
                instead: word!("Mend those above first.").to_owned(),
            });
        }
        self.list
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_byte_is_placed_by_line_and_character() {
        let problems = Problems::new("aé\r\nx\n");
        for (at, expected) in [
            (0, (1, 1)),
            (1, (1, 2)),
            (2, (1, 2)),
            (3, (1, 3)),
            (5, (2, 1)),
            (6, (2, 2)),
            (7, (2, 2)),
            (700, (2, 2)),
        ] {
            assert_eq!(problems.position(at), expected, "byte {at}");
        }
        assert_eq!(Problems::new("").position(9), (1, 1));
    }

    #[test]
    fn beyond_the_bound_problems_are_counted_and_an_error_among_them_still_counts() {
        let text = "x".repeat(300);
        let mut problems = Problems::new(&text);
        for at in 0..120 {
            problems.warning(at, "W.", "D.");
        }
        problems.error(250, "E.", "D.");
        assert!(problems.has_errors());
        let listed = problems.finish();
        assert_eq!(listed.len(), MOST_PROBLEMS + 1);
        let last = &listed[MOST_PROBLEMS];
        assert_eq!(last.what, "21 more problems are not listed.");
        assert_eq!(last.severity, Severity::Error);
    }

    #[test]
    fn problems_come_in_the_order_of_the_text_and_once() {
        let mut problems = Problems::new("a\nb\n");
        problems.error(2, "Second.", "D.");
        problems.warning(0, "First.", "D.");
        problems.error(2, "Second.", "D.");
        let listed = problems.finish();
        let lines: Vec<_> = listed.iter().map(ToString::to_string).collect();
        assert_eq!(lines, ["1:1: warning: First. D.", "2:1: error: Second. D."]);
    }
}
