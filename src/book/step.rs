//! One bench step of a book: its folder, its frozen geometry, and where its takes and those of its tests are.
//!
//! Must not know sound.

use std::path::{Path, PathBuf};

use super::folder::INSTRUMENT;
use super::names::{number_of, numbered};
use super::take_folder::TakeFolder;

/// The folder of a step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct StepFolder {
    path: PathBuf,
    prototype: String,
    name: String,
}

impl StepFolder {
    pub(super) fn named(root: &Path, prototype: &str, name: &str) -> StepFolder {
        let path = root.join(prototype).join(name);
        StepFolder { path, prototype: prototype.to_string(), name: name.to_string() }
    }

    /// The folder.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// The prototype, `P2`.
    #[must_use]
    pub fn prototype(&self) -> &str {
        &self.prototype
    }

    /// The step's name, `01-drilled`.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Its number.
    #[must_use]
    pub fn number(&self) -> Option<u32> {
        number_of(&self.name)
    }

    /// Where its takes are.
    #[must_use]
    pub fn takes(&self) -> PathBuf {
        self.path.join("takes")
    }

    /// Its takes, of the instrument as it is.
    #[must_use]
    pub fn ordinary(&self) -> TakeFolder {
        TakeFolder::new(&self.path, self.takes(), format!("{}/{}/takes", self.prototype, self.name))
    }

    /// Where its bench tests are.
    #[must_use]
    pub fn tests(&self) -> PathBuf {
        self.path.join("tests")
    }

    /// The numbers of its bench tests as their folders are called, `01`, in their order.
    #[must_use]
    pub fn test_names(&self) -> Vec<String> {
        numbered(&self.tests())
    }

    /// The takes of the bench test `name`.
    #[must_use]
    pub fn takes_of_test(&self, name: &str) -> TakeFolder {
        let home = self.tests().join(name);
        TakeFolder::new(&home, home.clone(), format!("{}/{}/tests/{name}", self.prototype, self.name))
    }

    /// All its folders of takes: the ordinary ones, then those of each bench test.
    #[must_use]
    pub fn take_folders(&self) -> Vec<TakeFolder> {
        let tests = self.test_names();
        std::iter::once(self.ordinary()).chain(tests.iter().map(|name| self.takes_of_test(name))).collect()
    }

    /// The instrument file as it was when the first take was kept.
    #[must_use]
    pub fn frozen_file(&self) -> PathBuf {
        self.path.join(INSTRUMENT)
    }

    /// Whether its geometry is frozen.
    #[must_use]
    pub fn is_frozen(&self) -> bool {
        self.frozen_file().is_file()
    }

    /// Whether it has takes, those of bench tests and those set aside too: all were played on this geometry.
    #[must_use]
    pub fn has_takes(&self) -> bool {
        self.take_folders().iter().any(TakeFolder::has_takes)
    }
}
