//! The command `new`: a folder with a commented instrument file to fill in.

use std::path::Path;
use std::process::ExitCode;

use super::failure::Failure;
use super::output::put;
use crate::instrument::template::plain_tube;

/// Makes `folder` with `instrument.toml` and an empty `takes` folder.
///
/// # Errors
/// [`Failure`] when the folder holds something already or can't be written.
pub fn run(folder: &Path) -> Result<ExitCode, Failure> {
    let failure = |path: &Path| {
        let path = path.to_path_buf();
        move |source| Failure::File { path, source }
    };
    if folder.is_dir() {
        let mut entries = std::fs::read_dir(folder).map_err(failure(folder))?;
        if entries.next().is_some() {
            return Err(Failure::Occupied { path: folder.to_path_buf() });
        }
    } else if folder.exists() {
        return Err(Failure::Occupied { path: folder.to_path_buf() });
    }
    let takes = folder.join("takes");
    std::fs::create_dir_all(&takes).map_err(failure(&takes))?;
    let name =
        folder.file_name().map_or_else(|| "My instrument".to_string(), |n| n.to_string_lossy().into_owned());
    let file = folder.join("instrument.toml");
    std::fs::write(&file, plain_tube(&name)).map_err(failure(&file))?;
    put(&format!(
        "Made {}.\n\
         Open it in a text editor. Every line marked EXAMPLE wants a measurement of yours; delete the mark\n\
         once the number is real. Then see what the tube should sound:\n    \
         borescribe predict {}\n\
         Record each fingering into {}, and:\n    \
         borescribe check {}\n",
        file.display(),
        folder.display(),
        takes.display(),
        folder.display()
    ))?;
    Ok(ExitCode::SUCCESS)
}
