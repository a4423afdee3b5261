//! A whole session, ridden on the practice trainer with three buttons and brake off, through the window and the core.

use std::cell::RefCell;
use std::rc::Rc;
use std::sync::Arc;

use egui::Key;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use stillroad::app::{App, Ride, Shelf};
use stillroad::device::practice::{Practice, PracticeConfig};
use stillroad::engine::snapshot::Question;
use stillroad::engine::world::World;
use stillroad::engine::{Command, Snapshot};
use stillroad::ride::{Finish, Mode, RideMode};
use stillroad::time::{Instant, Span};

use super::hand::Drawer;

const LESS: Key = Key::PageUp;
const YES: Key = Key::Period;
const MORE: Key = Key::PageDown;
const OFF: Key = Key::Escape;

/// The core in virtual time, behind the window.
#[derive(Clone)]
struct Virtual(Rc<RefCell<World<'static>>>);

impl Ride for Virtual {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        self.0.borrow().snapshot()
    }

    fn now(&self) -> Instant {
        self.0.borrow().now()
    }

    fn command(&mut self, command: Command) {
        self.0.borrow_mut().command(command);
    }
}

struct Rider {
    harness: Harness<'static, App>,
    world: Rc<RefCell<World<'static>>>,
}

impl Rider {
    fn open() -> Self {
        let rider = crate::world::rider();
        let plan = crate::world::session(
            "[[block]]\nkind = \"warm-up\"\ntime = \"1:00\"\neffort = 3\n\
             [[block]]\nkind = \"hold\"\ntime = \"3:00\"\neffort = 5\n\
             [[block]]\nkind = \"recovery\"\ntime = \"2:00\"\neffort = 2\n\
             [[block]]\nkind = \"hold\"\ntime = \"1:00\"\neffort = 5\ncut = true\n\
             [[block]]\nkind = \"cool-down\"\ntime = \"1:00\"\neffort = 2\n",
        );
        let practice = Practice::new(PracticeConfig::for_rider(rider.threshold, rider.w_prime));
        let world = World::new(1_700_000_000_000, vec![Box::new(practice)], |_, _| {});
        let world = Rc::new(RefCell::new(world));
        let ride = Virtual(Rc::clone(&world));
        let shelf = Shelf {
            sessions: vec![("three.toml".into(), plan)],
            riders: vec![(None, Arc::new(rider))],
            ..Shelf::default()
        };
        let harness = Harness::builder()
            .with_size(egui::vec2(800.0, 600.0))
            .build_eframe(move |cc| {
                App::new(cc, Box::new(ride), shelf, Box::new(Drawer::default()))
            });
        let mut rider = Self { harness, world };
        rider.pass(3);
        rider
    }

    fn press(&mut self, keys: &[Key]) {
        for &key in keys {
            self.harness.key_press(key);
            self.harness.run_steps(2);
        }
    }

    fn pass(&mut self, seconds: u64) {
        let until = self.world.borrow().now() + Span::from_seconds(seconds);
        self.world.borrow_mut().run_until(until);
        self.harness.run_steps(2);
    }

    fn now(&self) -> Arc<Snapshot> {
        self.world.borrow().snapshot()
    }

    /// Passes time, a second at once, until something is so.
    fn until(&mut self, most: u64, is_so: impl Fn(&Snapshot) -> bool) {
        for _ in 0..most {
            if is_so(&self.now()) {
                self.harness.run_steps(2);
                return;
            }
            self.pass(1);
        }
        panic!("it never came about: {:?}", self.now().mode);
    }

    /// Walks on from the first choice to one of these words, and takes it.
    fn choose(&mut self, words: &str) {
        for _ in 0..20 {
            let node = self.harness.get_by_label("Choices");
            let chosen = egui_kittest::kittest::NodeT::accesskit_node(&node).value();
            if chosen.is_some_and(|chosen| chosen.starts_with(words)) {
                return self.press(&[YES]);
            }
            self.press(&[MORE]);
        }
        panic!("{words} is not among the choices");
    }
}

#[test]
fn three_buttons_ride_a_whole_session() {
    let mut rider = Rider::open();
    // Take the practice trainer, take in the cautions, be ready; its rider's pedals begin.
    rider.press(&[YES]);
    rider.until(20, |now| now.mode == Mode::Ready);
    rider.press(&[YES]);
    assert!(rider.now().cautions_seen_today);
    assert!(!rider.now().waits_for_pedals, "nothing begins by itself");
    rider.press(&[YES]);
    rider.until(20, |now| now.mode == Mode::Riding);

    rider.press(&[MORE, MORE, LESS]);
    let now = rider.now();
    assert_eq!(now.trim_work + now.trim_recovery, 2);
    // Pause by yes twice, go on by yes.
    rider.press(&[YES, YES]);
    assert!(matches!(rider.now().mode, Mode::Paused(_)));
    rider.pass(5);
    rider.press(&[YES]);
    assert_eq!(rider.now().mode, Mode::Riding);
    // Brake off, and on again.
    rider.press(&[OFF]);
    rider.pass(3);
    assert!(rider.now().released.contains("by hand"));
    rider.press(&[YES]);
    rider.pass(10);
    assert_eq!(rider.now().released, "");

    let length = rider.now().session_length;
    rider.press(&[YES]);
    rider.choose("30 s more");
    assert_eq!(rider.now().session_length, length + Span::from_seconds(30));
    rider.choose("take back");
    assert_eq!(rider.now().session_length, length);
    rider.pass(9);
    assert!(
        rider.harness.query_by_label("Choices").is_none(),
        "they left by themselves"
    );
    rider.press(&[YES]);
    rider.choose("leave out a block");
    assert_eq!(
        rider.now().session_length,
        length.less(Span::from_seconds(60))
    );

    rider.press(&[YES]);
    rider.choose("why this load");
    rider.harness.get_by_label("Why this load");
    rider.press(&[YES]);
    rider.choose("why this load");
    assert!(rider.harness.query_by_label("Why this load").is_none());

    rider.press(&[YES]);
    rider.choose("watts or effort");
    assert_eq!(rider.now().ride_mode, RideMode::EffortOnly);
    rider.press(&[YES]);
    rider.choose("note my gear");
    // Each notice before it stands its four seconds.
    rider.until(30, |now| {
        now.notice.as_deref() == Some("This gear is noted.")
    });
    rider.press(&[YES]);
    rider.choose("watts or effort");
    assert_eq!(rider.now().ride_mode, RideMode::TargetPower);
    // On to the hold: skip needs yes twice.
    rider.press(&[YES]);
    rider.choose("skip this block");
    assert_eq!((rider.now().lap, rider.now().armed.is_some()), (0, true));
    rider.press(&[YES]);
    assert_eq!(rider.now().lap, 1);

    rider.until(200, |now| now.lap == 2);
    rider.until(20, |now| now.question.is_some());
    rider.press(&[MORE, MORE, LESS, YES]);
    assert_eq!(rider.now().question, None, "the answer was given");
    rider.until(400, |now| now.lap == 4);
    // End it early, by the last choice, which lies one step back while the ride stands.
    rider.press(&[YES, YES, LESS, YES]);
    assert!(
        !matches!(rider.now().mode, Mode::Finished(_)),
        "once is not enough"
    );
    rider.press(&[YES]);
    assert_eq!(rider.now().mode, Mode::Finished(Finish::ByRider));
    rider.harness.run_steps(2);
    assert_eq!(rider.now().question, Some(Question::RateSession));
    rider.press(&[LESS, LESS, YES]);
    assert_eq!(rider.now().question, None);
    rider.press(&[YES]);
    rider.pass(2);
    assert!(
        !matches!(rider.now().mode, Mode::Finished(_)),
        "back in Prepare"
    );
}
