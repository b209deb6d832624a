//! A scenario that was read, and can be prepared with other values as often as one likes.

use crate::files::demo;
use crate::files::error::Error;
use crate::files::origins::Folder;
use crate::files::overrides::Override;
use crate::files::reading::read;
use crate::files::tree::{Tree, canonical, text_of};
use crate::files::unfit::explain;
use crate::inputs::scenario::Scenario;
use crate::prepared::{Known, Prepared, prepare};
use std::path::Path;
use std::sync::{Arc, OnceLock};

/// A scenario with all the files that it refers to.
#[derive(Debug, Clone)]
pub struct Loaded {
    file: String,
    tree: Arc<Tree>,
    /// What is known of it as it is, from the first time that it is prepared.
    known: Arc<OnceLock<Option<Known>>>,
}

impl Loaded {
    /// Reads a scenario, or a build alone, and every file that it refers to. Nothing is checked
    /// but that all of them are JSON.
    ///
    /// # Errors
    /// A file that is missing, is no plain file, is larger than [`crate::FILE_LIMIT_BYTES`], is
    /// not JSON, holds a key twice, or refers back to itself; a part that the shelf does not have.
    pub fn open(path: impl AsRef<Path>) -> Result<Self, Error> {
        let path = path.as_ref();
        let file = path.display().to_string();
        let text = text_of(path)?;
        let folder = Folder::Disk(path.parent().unwrap_or(Path::new("")).to_owned());
        let tree = Tree::read(&text, &file, folder, vec![canonical(path)])?;
        Ok(Self::of(file, tree))
    }

    fn of(file: String, tree: Tree) -> Self {
        Self { file, tree: Arc::new(tree), known: Arc::default() }
    }

    /// The scenario that comes with the program.
    ///
    /// # Errors
    /// None that a test would not find.
    pub fn demo() -> Result<Self, Error> {
        let tree = Tree::read(demo::SCENARIO, demo::NAME, Folder::Demo, Vec::new())?;
        Ok(Self::of(demo::NAME.to_owned(), tree))
    }

    /// The name of the file.
    pub fn file(&self) -> &str {
        &self.file
    }

    /// The same with values put in place of others, to be prepared often.
    ///
    /// # Errors
    /// A path that leads nowhere.
    pub fn put(&self, overrides: &[Override]) -> Result<Self, Error> {
        Ok(Self::of(self.file.clone(), self.changed(overrides)?))
    }

    /// Puts values in place of others and makes a car of it all.
    ///
    /// # Errors
    /// A path that leads nowhere; a field that is unknown, missing, of the wrong type or out of
    /// range. Each is one sentence with the file and the path.
    pub fn with(&self, overrides: &[Override]) -> Result<Prepared, Error> {
        let Tree { root, origins } = &*self.tree;
        let known = self.known.get_or_init(|| Known::of(read(root).ok()?, origins));
        let quickly = known.as_ref().and_then(|it| it.with(&self.file, &self.tree, overrides));
        match quickly {
            Some(prepared) => Ok(prepared),
            None => self.with_all_anew(overrides),
        }
    }

    /// The same with everything read and checked again, which says what is refused.
    fn with_all_anew(&self, overrides: &[Override]) -> Result<Prepared, Error> {
        let tree = self.changed(overrides)?;
        let scenario: Scenario =
            read(&tree.root).map_err(|unfit| explain(&tree.origins, unfit, "the scenario"))?;
        prepare(&self.file, scenario, tree)
    }

    fn changed(&self, overrides: &[Override]) -> Result<Tree, Error> {
        let mut tree = Tree::clone(&self.tree);
        for one in overrides {
            tree.set(&one.path, &one.shown, one.value.clone())?;
        }
        Ok(tree)
    }

    /// Makes a car of it as it is.
    ///
    /// # Errors
    /// As [`Self::with`].
    pub fn prepare(&self) -> Result<Prepared, Error> {
        self.with(&[])
    }
}
