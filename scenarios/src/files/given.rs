//! The input as it was understood, put together when somebody asks for it.

use crate::files::origins::Origins;
use crate::files::overrides::Override;
use crate::files::tree::Tree;
use serde_json::Value;
use std::ops::{Deref, DerefMut};
use std::sync::{Arc, OnceLock};

/// The input as one tree of JSON: references resolved, overrides put in.
#[derive(Debug, Clone)]
pub struct Given {
    base: Arc<Tree>,
    /// What is put into it, none of which is a reference.
    overrides: Arc<[Override]>,
    whole: OnceLock<Arc<Tree>>,
}

impl Given {
    /// A tree as it is.
    pub(crate) fn whole(tree: Tree) -> Self {
        Self::changed(Arc::new(tree), &[])
    }

    /// A tree with values that can be put into it.
    pub(crate) fn changed(base: Arc<Tree>, overrides: &[Override]) -> Self {
        Self { base, overrides: overrides.into(), whole: OnceLock::new() }
    }

    fn tree(&self) -> &Tree {
        if self.overrides.is_empty() {
            return &self.base;
        }
        self.whole.get_or_init(|| {
            let mut tree = Tree::clone(&self.base);
            for one in self.overrides.iter() {
                // Whatever could not be put in was refused before.
                let _ = tree.set(&one.path, &one.shown, one.value.clone());
            }
            Arc::new(tree)
        })
    }

    /// Where its branches came from.
    pub(crate) fn origins(&self) -> &Origins {
        &self.tree().origins
    }
}

impl Deref for Given {
    type Target = Value;

    fn deref(&self) -> &Value {
        &self.tree().root
    }
}

impl DerefMut for Given {
    fn deref_mut(&mut self) -> &mut Value {
        if !self.overrides.is_empty() {
            *self = Self::whole(self.tree().clone());
        }
        &mut Arc::make_mut(&mut self.base).root
    }
}
