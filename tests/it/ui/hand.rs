//! A ride made by hand behind the window: it shows what it is given and writes down what it is told.

use std::cell::{Cell, RefCell};
use std::rc::Rc;
use std::sync::Arc;

use egui_kittest::Harness;
use egui_kittest::kittest::NodeT as _;
use stillroad::app::{App, Desk, Ride, SessionFiles, Shelf};
use stillroad::engine::{Command, Snapshot};
use stillroad::rider::Rider;
use stillroad::time::Instant;
use stillroad::ui::legibility::Sight;
use stillroad::ui::settings::Settings;

use super::left_open::LeftPile;
use super::raster::{Picture, Textures};
use super::review_rides::Pile;
use super::states;

/// What the test holds of it.
#[derive(Clone)]
pub struct Hand {
    pub shown: Rc<RefCell<Arc<Snapshot>>>,
    pub told: Rc<RefCell<Vec<Command>>>,
    pub now: Rc<Cell<Instant>>,
}

impl Hand {
    pub fn new(snapshot: Snapshot) -> Self {
        Self {
            now: Rc::new(Cell::new(snapshot.at)),
            shown: Rc::new(RefCell::new(Arc::new(snapshot))),
            told: Rc::default(),
        }
    }

    pub fn show(&self, snapshot: Snapshot) {
        *self.shown.borrow_mut() = Arc::new(snapshot);
    }

    /// What was told since this was last asked.
    pub fn told(&self) -> Vec<Command> {
        self.told.take()
    }
}

impl Ride for Hand {
    fn snapshot(&mut self) -> Arc<Snapshot> {
        Arc::clone(&self.shown.borrow())
    }

    fn now(&self) -> Instant {
        self.now.get()
    }

    fn command(&mut self, command: Command) {
        self.told.borrow_mut().push(command);
    }
}

/// A rider that was saved, with the key of the file that was replaced.
type SavedRider = (Option<String>, Rider);

/// A desk that remembers what was saved, and refuses where it is told to.
#[derive(Clone, Default)]
pub struct Drawer {
    pub settings: Rc<RefCell<Vec<String>>>,
    pub riders: Rc<RefCell<Vec<SavedRider>>>,
    pub refuses: Rc<Cell<bool>>,
    /// What the files of riders say by now.
    pub read: Rc<RefCell<Option<Rider>>>,
}

impl Drawer {
    fn keep(&self) -> Result<(), String> {
        if self.refuses.get() {
            return Err("The drawer is locked. Unlock it.".to_owned());
        }
        Ok(())
    }
}

impl Desk for Drawer {
    fn save_rider(&mut self, key: Option<&str>, rider: &Rider) -> Result<String, String> {
        self.keep()?;
        let kept = (key.map(str::to_owned), rider.clone());
        self.riders.borrow_mut().push(kept);
        Ok(key.unwrap_or("new").to_owned())
    }

    fn read_rider(&mut self, _key: &str) -> Result<Rider, String> {
        self.read
            .borrow()
            .clone()
            .ok_or_else(|| "The drawer is stuck. Pull harder.".to_owned())
    }

    fn save_settings(&mut self, text: &str) -> Result<(), String> {
        self.keep()?;
        self.settings.borrow_mut().push(text.to_owned());
        Ok(())
    }
}

/// A session that was saved: the key of its file, and what it says.
type SavedSession = (String, String);

/// A folder of sessions that remembers what was saved.
#[derive(Clone, Default)]
pub struct Folder {
    pub files: Rc<RefCell<Vec<SavedSession>>>,
    pub draft: Rc<RefCell<Option<String>>>,
    pub refuses: Rc<Cell<bool>>,
}

impl Folder {
    pub fn says(&self, key: &str) -> Option<String> {
        let files = self.files.borrow();
        let found = files.iter().find(|(known, _)| known == key);
        found.map(|(_, text)| text.clone())
    }

    /// What another program does.
    pub fn put(&self, key: &str, text: &str) {
        let mut files = self.files.borrow_mut();
        files.retain(|(known, _)| known != key);
        files.push((key.to_owned(), text.to_owned()));
    }
}

impl SessionFiles for Folder {
    fn keys(&mut self) -> Result<Vec<String>, String> {
        Ok(self
            .files
            .borrow()
            .iter()
            .map(|(key, _)| key.clone())
            .collect())
    }

    fn load(&mut self, key: &str) -> Result<Option<Arc<str>>, String> {
        Ok(self.says(key).map(Arc::from))
    }

    fn save_new(&mut self, name: &str, text: &str) -> Result<String, String> {
        if self.refuses.get() {
            return Err("The folder is full. Throw something away.".to_owned());
        }
        let mut key = name.replace(' ', "-");
        while self.says(&key).is_some() {
            key.push_str("-2");
        }
        self.put(&key, text);
        Ok(key)
    }

    fn save_over(&mut self, key: &str, known: &str, text: &str) -> Result<bool, String> {
        let as_known = self.says(key).as_deref() == Some(known);
        if as_known {
            self.put(key, text);
        }
        Ok(as_known)
    }

    fn draft(&mut self) -> Result<Option<String>, String> {
        Ok(self.draft.borrow().clone())
    }

    fn keep_draft(&mut self, text: Option<&str>) -> Result<(), String> {
        *self.draft.borrow_mut() = text.map(str::to_owned);
        Ok(())
    }
}

pub fn shelf() -> Shelf {
    Shelf {
        sessions: vec![
            ("first.toml".into(), Arc::new(states::steady_plan())),
            ("sprints.toml".into(), Arc::new(states::sprint_plan())),
        ],
        riders: vec![
            (Some("robin".into()), Arc::new(states::rider())),
            (None, Arc::default()),
        ],
        troubles: Vec::new(),
    }
}

/// A window of a size over a snapshot, after its first frames; what it said at the start is forgotten.
pub struct Window {
    pub harness: Harness<'static, App>,
    pub hand: Hand,
    pub drawer: Drawer,
    pub folder: Folder,
    pub pile: Pile,
    pub left: LeftPile,
    textures: Textures,
    size: [usize; 2],
}

impl Window {
    pub fn open(snapshot: Snapshot, width: usize, height: usize) -> Self {
        Self::open_with(snapshot, width, height, Settings::default())
    }

    /// The same with settings of the rider's own.
    pub fn open_with(snapshot: Snapshot, width: usize, height: usize, settings: Settings) -> Self {
        Self::whole(snapshot, shelf(), [width, height], 1.0, settings)
    }

    /// Width and height in points, of which each has so many pixels a side.
    pub fn open_at(snapshot: Snapshot, width: usize, height: usize, dots: f32) -> Self {
        let settings = Settings::default();
        Self::whole(snapshot, shelf(), [width, height], dots, settings)
    }

    /// The same with other things to choose from.
    pub fn with(snapshot: Snapshot, shelf: Shelf, width: usize, height: usize, dots: f32) -> Self {
        Self::whole(snapshot, shelf, [width, height], dots, Settings::default())
    }

    /// The same on a screen with so many dots a point, for a rider who sees like this.
    pub fn seen(snapshot: Snapshot, width: usize, height: usize, dots: f32, sight: Sight) -> Self {
        let settings = Settings {
            diagonal_mm: sight.screen.map(|screen| screen.diagonal_mm),
            distance_mm: sight.screen.map(|screen| screen.distance_mm),
            text_size: (sight.text * 100.0).round() as u8,
            reduced_motion: sight.reduced_motion,
            ..Settings::default()
        };
        Self::whole(snapshot, shelf(), [width, height], dots, settings)
    }

    /// The same with settings of the rider's own and a screen with so many dots a point.
    pub fn set_up(
        snapshot: Snapshot,
        width: usize,
        height: usize,
        dots: f32,
        settings: Settings,
    ) -> Self {
        Self::whole(snapshot, shelf(), [width, height], dots, settings)
    }

    fn whole(
        snapshot: Snapshot,
        shelf: Shelf,
        [width, height]: [usize; 2],
        dots: f32,
        settings: Settings,
    ) -> Self {
        let drawer = Drawer::default();
        let desk = drawer.clone();
        let folder = Folder::default();
        let sessions = folder.clone();
        let pile = Pile::default();
        let rides = pile.clone();
        let left = LeftPile::beside(&snapshot);
        let left_rides = left.clone();
        let hand = Hand::new(snapshot);
        let textures = Textures::default();
        let ride = hand.clone();
        let mut harness = Harness::builder()
            .with_size(egui::vec2(width as f32, height as f32))
            .with_pixels_per_point(dots)
            .renderer(textures.clone())
            .build_eframe(move |cc| {
                App::new(cc, Box::new(ride), shelf, Box::new(desk))
                    .keeping_sessions(Box::new(sessions))
                    .reading_rides(Box::new(rides))
                    .offering_left_open(Box::new(left_rides))
                    .with_settings(&cc.egui_ctx, settings, Vec::new())
            });
        harness.run_steps(3);
        hand.told();
        Self {
            harness,
            hand,
            drawer,
            folder,
            pile,
            left,
            textures,
            size: [width, height].map(|points| (points as f32 * dots) as usize),
        }
    }

    pub fn press(&mut self, key: egui::Key) {
        self.harness.key_press(key);
        self.harness.run_steps(2);
    }

    /// What the screen shows now.
    pub fn picture(&mut self) -> Picture {
        self.harness.step();
        let output = self.harness.output();
        let meshes = self
            .harness
            .ctx
            .tessellate(output.shapes.clone(), output.pixels_per_point);
        Picture::of(self.size, &meshes, &self.textures, output.pixels_per_point)
    }

    /// Every text that is painted now, with its size and where it may be seen.
    pub fn drawn(&mut self) -> Vec<Drawn> {
        self.harness.step();
        let mut drawn = Vec::new();
        for clipped in &self.harness.output().shapes {
            collect(&clipped.shape, clipped.clip_rect, &mut drawn);
        }
        drawn
    }

    /// Every text that is painted now, with the rectangle of its ink.
    pub fn texts(&mut self) -> Vec<(String, egui::Rect)> {
        let drawn = self.drawn().into_iter();
        drawn.map(|text| (text.words, text.ink)).collect()
    }

    /// The same, cut at what the parts of the window let be seen; what is cut away for more than half is left out.
    pub fn seen_texts(&mut self) -> Vec<(String, egui::Rect)> {
        let seen = self.drawn().into_iter().filter_map(|text| {
            let left = text.ink.intersect(text.clip);
            (left.height() > text.ink.height() / 2.0 && left.width() > 0.0)
                .then_some((text.words, left))
        });
        seen.collect()
    }

    /// Every text that is painted now, and every value that a screen reader is given.
    pub fn words(&mut self) -> Vec<String> {
        let mut words: Vec<String> = self.texts().into_iter().map(|(words, _)| words).collect();
        let nodes = self.harness.root().children_recursive();
        words.extend(nodes.filter_map(|node| node.accesskit_node().value()));
        words
    }
}

/// One text as it is painted.
pub struct Drawn {
    pub words: String,
    /// The rectangle of its ink, points.
    pub ink: egui::Rect,
    /// The largest size of its type, points.
    pub size: f32,
    /// Where it may be seen.
    pub clip: egui::Rect,
}

fn collect(shape: &egui::Shape, clip: egui::Rect, drawn: &mut Vec<Drawn>) {
    match shape {
        egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| collect(shape, clip, drawn)),
        egui::Shape::Text(text) if !text.galley.text().trim().is_empty() => {
            let sections = text.galley.job.sections.iter();
            drawn.push(Drawn {
                words: text.galley.text().to_owned(),
                ink: text.galley.mesh_bounds.translate(text.pos.to_vec2()),
                size: sections
                    .map(|part| part.format.font_id.size)
                    .fold(0.0, f32::max),
                clip,
            });
        }
        _ => {}
    }
}
