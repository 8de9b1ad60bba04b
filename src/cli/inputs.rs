//! What the paths on the command line stand for.

use std::io::Read;
use std::path::{Path, PathBuf};

use crate::workspace::Input;

/// Turns the paths into inputs; `-` reads standard input, which is then called `name`.
///
/// Gives an error when `-` stands twice, when there is a name and no `-`, or when standard input cannot
/// be read.
pub(super) fn gather(paths: &[PathBuf], name: Option<&str>) -> Result<Vec<Input>, String> {
    let dash = Path::new("-");
    match paths.iter().filter(|path| *path == dash).count() {
        0 if name.is_some() => {
            return Err(
                "expected `-` among the paths, because --name names standard input; found none"
                    .to_string(),
            );
        }
        0 | 1 => {}
        _ => {
            return Err(
                "expected `-` at most once, because standard input can be read once".to_string(),
            );
        }
    }
    let mut inputs = Vec::with_capacity(paths.len());
    for path in paths {
        if path == dash {
            let mut bytes = Vec::new();
            std::io::stdin()
                .lock()
                .take(u64::from(u32::MAX))
                .read_to_end(&mut bytes)
                .map_err(|error| format!("cannot read standard input: {error}"))?;
            inputs.push(Input::Text {
                name: name.unwrap_or("standard-input.ubr").to_string(),
                bytes,
            });
        } else {
            inputs.push(Input::Path(path.clone()));
        }
    }
    Ok(inputs)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_name_needs_standard_input_and_it_is_read_once() {
        assert!(gather(&["a.ubr".into()], Some("x.ubr")).is_err());
        assert!(gather(&["-".into(), "-".into()], None).is_err());
        assert!(
            gather(&["a.ubr".into(), "units".into()], None).is_ok_and(|inputs| inputs.len() == 2)
        );
    }
}
