//! What a new session can begin with.

/// A text to begin with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Template {
    /// What it is called.
    pub name: &'static str,
    /// What it has, in a sentence.
    pub about: &'static str,
    /// The text.
    pub text: &'static str,
}

/// All of them, the barest first.
pub const TEMPLATES: [Template; 4] = [
    Template {
        name: entry!("Bare"),
        about: entry!("A warm-up, one steady block, a cool-down."),
        text: include_str!("templates/bare.toml"),
    },
    Template {
        name: entry!("Repeats"),
        about: entry!("The same hold several times, with a recovery behind each."),
        text: include_str!("templates/repeats.toml"),
    },
    Template {
        name: entry!("Sprints"),
        about: entry!("Short all-out efforts, each with rest enough."),
        text: include_str!("templates/sprints.toml"),
    },
    Template {
        name: entry!("Easy"),
        about: entry!("One easy stretch with changes of cadence and words to think of."),
        text: include_str!("templates/easy.toml"),
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::plan;

    #[test]
    fn each_can_be_ridden_as_it_stands() {
        for template in TEMPLATES {
            let reading = plan::read(template.text);
            assert_eq!(reading.problems, [], "{}", template.name);
            assert!(reading.plan.is_some());
        }
    }
}
