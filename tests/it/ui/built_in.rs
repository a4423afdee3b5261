//! The built-in sessions of the shelf in the language that is spoken in the window.

use std::sync::Arc;

use stillroad::app::Shelf;
use stillroad::engine::{Command, Snapshot};
use stillroad::plan::{self, Plan};
use stillroad::rider::Rider;
use stillroad::text::{Language, within};

use super::hand::Window;
use super::states;

fn built_in(language: Language) -> Vec<(String, Arc<Plan>)> {
    let all = plan::builtin_in(language).iter();
    all.map(|(key, text)| ((*key).to_owned(), Arc::new(plan::read(text).plan.unwrap())))
        .collect()
}

/// A session that the core was told, and whether its name is to be read.
fn chosen(window: &mut Window, language: Language) -> Option<(Arc<Plan>, bool)> {
    within(language, || {
        window.harness.run_steps(3);
        let told = window.hand.told().into_iter().rev();
        let plan = told
            .filter_map(|command| match command {
                Command::Choose(choice) => Some(choice.plan),
                _ => None,
            })
            .next()?;
        let shown = window.texts().iter().any(|(text, _)| *text == plan.name);
        Some((plan, shown))
    })
}

#[test]
fn another_language_offers_the_twins_and_the_choice_stays() {
    let mut sessions = built_in(Language::English);
    // One of the rider's own that stands under a built-in one's name is not taken for it.
    let own = Arc::new(states::steady_plan());
    sessions.insert(1, ("second-week".to_owned(), Arc::clone(&own)));
    let shelf = Shelf {
        sessions,
        riders: vec![(None, Arc::new(Rider::default()))],
        troubles: Vec::new(),
    };
    let ready = Snapshot {
        cautions_seen_today: true,
        ..states::ready()
    };
    let mut window = Window::with(ready, shelf, 1280, 800, 1.0);
    assert_eq!(chosen(&mut window, Language::English), None);
    for language in [Language::German, Language::English] {
        let expected = &built_in(language)[0].1;
        let (plan, shown) = chosen(&mut window, language).expect("the core is told");
        assert_eq!(&plan, expected);
        assert!(shown, "{}", plan.name);
        within(language, || {
            let texts = window.texts();
            assert!(texts.iter().any(|(text, _)| *text == own.name));
        });
        // Told once, and not at every frame.
        assert_eq!(chosen(&mut window, language), None);
    }
}
