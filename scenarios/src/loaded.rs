//! A scenario that was read, and can be prepared with other values as often as one likes.

use crate::files::demo;
use crate::files::error::Error;
use crate::files::origins::Folder;
use crate::files::overrides::Override;
use crate::files::reading::read;
use crate::files::tree::{Tree, canonical, text_of};
use crate::files::unfit::explain;
use crate::inputs::scenario::Scenario;
use crate::inputs::taken_in::TakenIn;
use crate::prepared::{Known, Prepared, prepare};
use crate::taking_in::take_in;
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

/// A scenario with all the files that it refers to.
#[derive(Debug, Clone)]
pub struct Loaded {
    file: String,
    /// What the files say, with values put in.
    said: Arc<Tree>,
    /// Files of what was learnt beside those that the build names.
    measured: Arc<[PathBuf]>,
    /// The same with what was learnt.
    tree: Arc<Tree>,
    taken_in: Arc<TakenIn>,
    /// What is known of it as it is, from the first time that it is prepared.
    known: Arc<OnceLock<Option<Known>>>,
}

impl Loaded {
    /// Reads a scenario, or a build alone, and every file that it refers to, and takes in what was
    /// learnt from the car. Nothing is checked but that all of them are JSON.
    ///
    /// # Errors
    /// A file that is missing, is no plain file, is larger than [`crate::FILE_LIMIT_BYTES`], is
    /// not JSON, holds a key twice, or refers back to itself; a part that the shelf does not have;
    /// a file of what was learnt that says something else.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, Error> {
        let path = path.as_ref();
        let file = path.display().to_string();
        let text = text_of(path)?;
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        let tree = Tree::read(&text, &file, folder, vec![canonical(path)])?;
        Self::of(file, tree, Arc::default())
    }

    fn of(file: String, said: Tree, measured: Arc<[PathBuf]>) -> Result<Self, Error> {
        let said = Arc::new(said);
        let (tree, taken_in) = match take_in(&file, &said, &measured)? {
            Some((tree, taken_in)) => (Arc::new(tree), Arc::new(taken_in)),
            None => (said.clone(), Arc::default()),
        };
        Ok(Self { file, said, measured, tree, taken_in, known: Arc::default() })
    }

    /// The scenario that comes with the program.
    ///
    /// # Errors
    /// None that a test would not find.
    pub fn demo() -> Result<Self, Error> {
        let tree = Tree::read(demo::SCENARIO, demo::NAME, Folder::Demo, Vec::new())?;
        Self::of(demo::NAME.to_owned(), tree, Arc::default())
    }

    /// The same with files of what was learnt, after those that the build names.
    ///
    /// # Errors
    /// A file that cannot be read or says something else.
    pub fn measured(&self, files: &[PathBuf]) -> Result<Self, Error> {
        if files.is_empty() {
            return Ok(self.clone());
        }
        let all = self.measured.iter().chain(files).cloned().collect();
        Self::of(self.file.clone(), Tree::clone(&self.said), all)
    }

    /// The name of the file.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// What the files say, with values put in and what was learnt.
    pub(crate) fn root(&self) -> &serde_json::Value {
        &self.tree.root
    }

    /// What was learnt from the car and was taken in.
    pub fn taken_in(&self) -> &TakenIn {
        &self.taken_in
    }

    /// The same with values put in place of others, to be prepared often.
    ///
    /// # Errors
    /// A path that leads nowhere.
    pub fn put(&self, overrides: &[Override]) -> Result<Self, Error> {
        // What is learnt is taken in before values are put in, and anew where they name files.
        let files = |one: &Override| {
            one.path == ["build"] || one.path.starts_with(&["build".into(), "measured".into()])
        };
        let first = overrides.iter().rposition(files).map_or(0, |last| last + 1);
        let (naming, others) = overrides.split_at(first);
        let base = match naming {
            [] => self.clone(),
            naming => {
                let said = put(&self.said, naming)?;
                // A list that is taken away takes the files along that the caller named beside it.
                let none = |one: &Override| {
                    let is_empty = one.value.as_array().is_some_and(Vec::is_empty);
                    one.path == ["build", "measured"] && (one.value.is_null() || is_empty)
                };
                let measured = match naming.iter().any(none) {
                    true => Arc::default(),
                    false => self.measured.clone(),
                };
                Self::of(self.file.clone(), said, measured)?
            }
        };
        let tree = Arc::new(put(&base.tree, others)?);
        let said = match Arc::ptr_eq(&base.said, &base.tree) {
            true => tree.clone(),
            false => Arc::new(put(&base.said, others)?),
        };
        Ok(Self { said, tree, known: Arc::default(), ..base })
    }

    /// The files that a value names, with those that they refer to; a text that is the name of a file
    /// counts whatever it is put in place of.
    pub fn files_of(&self, one: &Override) -> Vec<PathBuf> {
        let named = one.value.as_str().map(PathBuf::from).filter(|path| path.is_file());
        let put = self.put(std::slice::from_ref(one)).ok();
        let of_tree = put.iter().flat_map(|it| it.tree.origins.files().map(PathBuf::from));
        let learnt = put.iter().flat_map(|it| it.taken_in.files().map(PathBuf::from));
        named.into_iter().chain(of_tree).chain(learnt).collect()
    }

    /// Puts values in place of others and makes a car of it all.
    ///
    /// # Errors
    /// A path that leads nowhere; a field that is unknown, missing, of the wrong type or out of
    /// range. Each is one sentence with the file and the path.
    pub fn with(&self, overrides: &[Override]) -> Result<Prepared, Error> {
        let Tree { root, origins } = &*self.tree;
        let known = self.known.get_or_init(|| Known::of(read(root).ok()?, origins));
        let whole = (&self.tree, &self.taken_in);
        let quickly = known.as_ref().and_then(|it| it.with(&self.file, whole, overrides));
        match quickly {
            Some(prepared) => Ok(prepared),
            None => self.put(overrides)?.read_and_check(),
        }
    }

    /// Refuses what is of another kind than its field, whatever else is put in.
    pub(crate) fn check_form(&self) -> Result<(), Error> {
        let read = read::<Scenario>(&self.tree.root);
        read.map(drop).map_err(|unfit| explain(&self.tree.origins, unfit, "the scenario"))
    }

    /// Reads and checks everything again, and says what is refused.
    fn read_and_check(self) -> Result<Prepared, Error> {
        let Self { file, said, tree, taken_in, .. } = self;
        drop(said);
        let tree = Arc::unwrap_or_clone(tree);
        let scenario: Scenario =
            read(&tree.root).map_err(|unfit| explain(&tree.origins, unfit, "the scenario"))?;
        prepare(&file, scenario, tree, taken_in)
    }

    /// Makes a car of it as it is.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn prepare(&self) -> Result<Prepared, Error> {
        self.with(&[])
    }
}

/// A tree with values put in place of others.
fn put(tree: &Tree, overrides: &[Override]) -> Result<Tree, Error> {
    let mut tree = tree.clone();
    for one in overrides {
        tree.set(&one.path, &one.shown, one.value.clone())?;
    }
    Ok(tree)
}
