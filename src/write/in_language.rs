//! The templates in the language of whoever begins with one: a session is written on in the language that it begins in.

use super::templates::{TEMPLATES, Template};
use crate::text::{self, Language};

/// In the order of [`TEMPLATES`].
const GERMAN: [&str; TEMPLATES.len()] = [
    include_str!("templates/german/bare.toml"),
    include_str!("templates/german/repeats.toml"),
    include_str!("templates/german/sprints.toml"),
    include_str!("templates/german/easy.toml"),
];

impl Template {
    /// The text in the language of whoever asks.
    pub fn in_language(&self) -> &'static str {
        let texts = match text::language() {
            Language::English => return self.text,
            Language::German => GERMAN,
        };
        let mut pairs = TEMPLATES.iter().zip(texts);
        let own = pairs.find(|(template, _)| *template == self);
        own.map_or(self.text, |(_, text)| text)
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use crate::plan::{self, Plan};
    use crate::text::within;

    /// What is left of a session where its words are taken out.
    fn asked(plan: &Plan) -> Vec<String> {
        let blocks = plan.blocks.iter();
        blocks
            .map(|block| {
                let cues = block.cues.iter().map(|cue| (cue.place, cue.kind));
                let cues: Vec<_> = cues.collect();
                let (length, target) = (block.length, block.target);
                format!("{:?} {length} {target:?} {cues:?}", block.kind)
            })
            .collect()
    }

    #[test]
    fn each_has_a_twin_that_can_be_ridden_and_asks_for_the_same() {
        for template in TEMPLATES {
            let english = plan::read(template.in_language()).plan.unwrap();
            assert_eq!(&*english.source, template.text);
            let own = within(Language::German, || template.in_language());
            let reading = plan::read(own);
            assert_eq!(reading.problems, [], "{own}");
            let own = reading.plan.unwrap();
            assert_eq!(own.language, Language::German);
            assert_ne!(own.name, english.name);
            assert_eq!(asked(&own), asked(&english), "{}", template.name);
        }
    }
}
