//! A disk of a few kilobytes that can be filled to the last page.

use std::io::Write;
use std::path::Path;
use std::process::Command;

/// What a disk in memory hands out at a time.
pub const PAGE_BYTES: u64 = 4096;

/// A disk in memory; gone when it is dropped.
pub struct SmallDisk {
    place: tempfile::TempDir,
}

impl SmallDisk {
    /// A disk of so many kilobytes. `None`, aloud, where none can be made.
    pub fn new(kilobytes: usize) -> Option<SmallDisk> {
        let place = tempfile::tempdir().unwrap();
        let size = format!("size={kilobytes}k");
        let mounted = cfg!(target_os = "linux")
            && is_root()
            && Command::new("mount")
                .args(["-t", "tmpfs", "-o", &size, "tmpfs"])
                .arg(place.path())
                .output()
                .is_ok_and(|output| output.status.success());
        if !mounted {
            eprintln!(
                "SKIPPED: a small disk can't be made here (needs root on Linux), a full disk was not tried"
            );
            return None;
        }
        Some(SmallDisk { place })
    }

    pub fn path(&self) -> &Path {
        self.place.path()
    }

    /// From now on nothing can be written there.
    pub fn make_read_only(&self) {
        let output = Command::new("mount").args(["-o", "remount,ro"]).arg(self.path()).output().unwrap();
        assert!(output.status.success());
    }

    /// Fills it until only so many pages are left.
    pub fn fill(&self, pages_left: u64) {
        let mut filler = std::fs::File::create(self.filler()).unwrap();
        while filler.write_all(&[1; 8 * PAGE_BYTES as usize]).is_ok() {}
        let full = filler.metadata().unwrap().len();
        filler.set_len(full.saturating_sub(pages_left * PAGE_BYTES)).unwrap();
    }

    /// Takes out again what it was filled with.
    pub fn make_room(&self) {
        std::fs::remove_file(self.filler()).unwrap();
    }

    fn filler(&self) -> std::path::PathBuf {
        self.path().join("filler")
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = Command::new("umount").arg(self.place.path()).output();
    }
}

fn is_root() -> bool {
    Command::new("id").arg("-u").output().is_ok_and(|output| output.stdout.starts_with(b"0\n"))
}
