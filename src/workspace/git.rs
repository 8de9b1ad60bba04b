//! The git program, asked about a repository without trusting what the repository's own settings say.
//!
//! A repository can come from anywhere, and its settings can name programs. Nothing here runs them: no hooks, no
//! filters, no outside comparison, no pager, no fetching over a network. Every call is bounded in time and in what
//! it may answer, takes its arguments without a shell, and changes nothing in the repository.

use crate::finding::printable;
use std::ffi::{OsStr, OsString};
use std::fmt;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

/// Longest that one call may take.
const LONGEST: Duration = Duration::from_secs(120);
/// Most that one call may answer, in bytes.
const MOST: u64 = 512 * 1024 * 1024;
/// Most that is kept of what git complains, in bytes.
const MOST_COMPLAINT: u64 = 64 * 1024;

/// Settings that stand above those of the repository.
const SETTINGS: &[&str] = &[
    // Programs that a repository could have started.
    "core.fsmonitor=false",
    "core.hooksPath=/dev/null",
    "log.showSignature=false",
    // What could hide a change.
    "core.trustctime=true",
    "core.checkStat=default",
    "core.ignoreStat=false",
    // Paths as they are.
    "core.quotePath=false",
];

/// Variables that stay; every other `GIT_…` would point git at another repository, index or program.
const KEPT: &[&str] = &[
    "GIT_CEILING_DIRECTORIES",
    "GIT_CONFIG_GLOBAL",
    "GIT_CONFIG_NOSYSTEM",
    "GIT_CONFIG_SYSTEM",
    "GIT_DISCOVERY_ACROSS_FILESYSTEM",
    "GIT_EXEC_PATH",
];

/// Why git had no answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum GitFault {
    /// There is no git program.
    NotInstalled,
    /// The folder lies in no repository's working tree.
    NotARepository(PathBuf),
    /// The repository has no such commit.
    UnknownRevision {
        /// What was asked for.
        revision: String,
        /// Whether the repository holds only a part of its history.
        shallow: bool,
    },
    /// Git refused; the first line of what it said.
    Refused(String),
    /// Git did not answer in time.
    TooSlow,
    /// Git answered more than is taken.
    TooMuch,
}

impl fmt::Display for GitFault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            GitFault::NotInstalled => {
                out.write_str("expected the program git on the path, found none; install git")
            }
            GitFault::NotARepository(folder) => write!(
                out,
                "expected a git repository around {}, found none",
                printable::text(&folder.to_string_lossy())
            ),
            GitFault::UnknownRevision { revision, shallow } => {
                write!(
                    out,
                    "expected a commit of the repository, found `{}`, which it does not know",
                    printable::text(revision)
                )?;
                if *shallow {
                    out.write_str("; only a part of the history is here, fetch the rest of it")?;
                }
                Ok(())
            }
            GitFault::Refused(said) => write!(out, "git cannot answer: {}", printable::text(said)),
            GitFault::TooSlow => {
                write!(
                    out,
                    "expected an answer of git within {} s, found none",
                    LONGEST.as_secs()
                )
            }
            GitFault::TooMuch => {
                write!(
                    out,
                    "expected an answer of git of at most {} MB, found more",
                    MOST / 1024 / 1024
                )
            }
        }
    }
}

impl std::error::Error for GitFault {}

/// What git said, and whether it was content.
#[derive(Debug)]
struct Said {
    content: bool,
    answer: Vec<u8>,
    complaint: String,
}

impl Said {
    /// The answer, or the first line of the complaint.
    fn or_refused(self) -> Result<Vec<u8>, GitFault> {
        if self.content {
            return Ok(self.answer);
        }
        let mut lines = self.complaint.lines().map(str::trim);
        let line = lines
            .find(|line| !line.is_empty())
            .unwrap_or("no reason given");
        Err(GitFault::Refused(line.to_owned()))
    }
}

/// A repository with its working tree.
#[derive(Clone, Debug)]
pub struct Repository {
    root: PathBuf,
    /// Settings of filters, each to be emptied: a filter is a program.
    filters: Vec<OsString>,
}

impl Repository {
    /// The repository in whose working tree a folder lies.
    pub fn around(folder: &Path) -> Result<Repository, GitFault> {
        let none = || GitFault::NotARepository(folder.to_owned());
        let folder = folder.canonicalize().map_err(|_| none())?;
        let said = run(&folder, &[], &["rev-parse", "--show-toplevel"], Vec::new())?;
        if !said.content && said.complaint.contains("not a git repository") {
            return Err(none());
        }
        let answer = said.or_refused()?;
        let root = path_of(answer.strip_suffix(b"\n").unwrap_or(&answer));
        let root = root
            .and_then(|root| root.canonicalize().ok())
            .ok_or_else(none)?;
        // Settings of the repository can put its working tree elsewhere.
        if !folder.starts_with(&root) {
            return Err(none());
        }
        let mut repository = Repository {
            root,
            filters: Vec::new(),
        };
        let pattern = r"^filter\..*\.(clean|smudge|process|required)$";
        let said = repository.ask(&["config", "--name-only", "-z", "--get-regexp", pattern])?;
        // Git is not content when it finds none.
        repository.filters = parts(&said.answer).filter_map(text_of).collect();
        repository.filters.sort();
        repository.filters.dedup();
        Ok(repository)
    }

    /// The top folder of its working tree, links followed.
    pub fn root(&self) -> &Path {
        &self.root
    }

    /// The full name of the commit that a revision means: `HEAD~3`, a branch, a tag, the beginning of a name.
    pub fn commit(&self, revision: &str) -> Result<String, GitFault> {
        let shallow = |repository: &Repository| {
            let said = repository.ask(&["rev-parse", "--is-shallow-repository"]);
            said.is_ok_and(|said| said.answer.starts_with(b"true"))
        };
        let unknown = || GitFault::UnknownRevision {
            revision: revision.to_owned(),
            shallow: shallow(self),
        };
        // Nothing that looks like an option reaches git, and a name holds no byte that ends an argument.
        if revision.is_empty() || revision.starts_with('-') || revision.contains('\0') {
            return Err(unknown());
        }
        let commit = format!("{revision}^{{commit}}");
        let said = self.ask(&[
            "rev-parse",
            "--verify",
            "--quiet",
            "--end-of-options",
            &commit,
        ])?;
        let name = String::from_utf8_lossy(said.answer.trim_ascii()).into_owned();
        let is_name =
            matches!(name.len(), 40 | 64) && name.bytes().all(|byte| byte.is_ascii_hexdigit());
        if said.content && is_name {
            Ok(name)
        } else {
            Err(unknown())
        }
    }

    /// The files that differ between a commit and the working tree, as paths from the root: changed, added to the
    /// index, deleted, and both names of one that was renamed. What git does not track is not among them.
    ///
    /// `commit` is a full name as [`Repository::commit`] gives it.
    pub fn changed_since(&self, commit: &str) -> Result<Vec<PathBuf>, GitFault> {
        let answer = self.ask(&[
            "diff",
            "--no-ext-diff",
            "--no-textconv",
            "--no-renames",
            "--ignore-submodules=dirty",
            "--name-only",
            "-z",
            "--end-of-options",
            commit,
            "--",
        ])?;
        Ok(parts(&answer.or_refused()?).filter_map(path_of).collect())
    }

    /// The files that git tracks and compares with what stands in the working tree, as paths from the root. One that
    /// git was told to take as unchanged is not among them.
    pub fn tracked(&self) -> Result<Vec<PathBuf>, GitFault> {
        let answer = self.ask(&["ls-files", "-v", "-z"])?.or_refused()?;
        let compared = |part: &[u8]| match part {
            [b'H', b' ', path @ ..] => path_of(path),
            _ => None,
        };
        Ok(parts(&answer).filter_map(compared).collect())
    }

    /// The commits that changed a file, by its path from the root, the newest first, of every branch and at most so
    /// many.
    pub fn versions_of(&self, path: &Path, most: usize) -> Result<Vec<String>, GitFault> {
        let most = format!("--max-count={most}");
        let path = slashes(path);
        let arguments: [&OsStr; 6] = [
            OsStr::new("log"),
            OsStr::new("--all"),
            OsStr::new("--format=%H"),
            OsStr::new(&most),
            OsStr::new("--"),
            &path,
        ];
        let said = self.ask(&arguments)?;
        let answer = said.or_refused()?;
        let names = String::from_utf8_lossy(&answer);
        Ok(names.lines().map(str::to_owned).collect())
    }

    /// The bytes of a file in a commit, by its path from the root; none where the commit has no such file.
    ///
    /// `commit` is a full name as [`Repository::commit`] gives it.
    pub fn file_at(&self, commit: &str, path: &Path) -> Result<Option<Vec<u8>>, GitFault> {
        let files = self.files_at(commit, &[path.to_owned()])?;
        Ok(files.into_iter().next().flatten())
    }

    /// The same for many files in one call, in their order.
    pub fn files_at(
        &self,
        commit: &str,
        paths: &[PathBuf],
    ) -> Result<Vec<Option<Vec<u8>>>, GitFault> {
        if paths.is_empty() {
            return Ok(Vec::new());
        }
        let mut asked = Vec::new();
        for path in paths {
            asked.extend_from_slice(commit.as_bytes());
            asked.push(b':');
            asked.extend_from_slice(slashes(path).as_encoded_bytes());
            asked.push(0);
        }
        let said = run(
            &self.root,
            &self.filters,
            &["cat-file", "--batch", "-z"],
            asked,
        )?;
        let answer = said.or_refused()?;
        let broken = || GitFault::Refused("its answer broke off".to_owned());
        let mut rest = &answer[..];
        let mut files = Vec::with_capacity(paths.len());
        for path in paths {
            let wanted = format!("{commit}:");
            // `NAME missing`, where the name may hold line ends; else `OBJECT KIND SIZE` and the bytes.
            let absent = [
                wanted.as_bytes(),
                slashes(path).as_encoded_bytes(),
                b" missing\n",
            ]
            .concat();
            if let Some(after) = rest.strip_prefix(&absent[..]) {
                rest = after;
                files.push(None);
                continue;
            }
            let end = rest
                .iter()
                .position(|byte| *byte == b'\n')
                .ok_or_else(broken)?;
            let line = String::from_utf8_lossy(&rest[..end]).into_owned();
            let mut words = line.split(' ').skip(1);
            let (kind, size) = (
                words.next(),
                words.next().and_then(|size| size.parse::<usize>().ok()),
            );
            let size = size.ok_or_else(broken)?;
            let bytes = rest.get(end + 1..end + 1 + size).ok_or_else(broken)?;
            files.push((kind == Some("blob")).then(|| bytes.to_vec()));
            rest = rest.get(end + 2 + size..).ok_or_else(broken)?;
        }
        Ok(files)
    }

    /// Runs git in the root of the working tree. The arguments are a command of git and what it takes; a value from
    /// outside must stand behind `--end-of-options` or `--`. Gives what git wrote to standard output.
    pub fn answer<Argument: AsRef<OsStr>>(
        &self,
        arguments: &[Argument],
    ) -> Result<Vec<u8>, GitFault> {
        self.ask(arguments)?.or_refused()
    }

    fn ask<Argument: AsRef<OsStr>>(&self, arguments: &[Argument]) -> Result<Said, GitFault> {
        run(&self.root, &self.filters, arguments, Vec::new())
    }
}

/// Runs git in a folder, to its end or to the bounds, with something on its standard input.
fn run<Argument: AsRef<OsStr>>(
    folder: &Path,
    filters: &[OsString],
    arguments: &[Argument],
    input: Vec<u8>,
) -> Result<Said, GitFault> {
    let mut command = Command::new("git");
    for (name, _) in std::env::vars_os() {
        let own = name.to_string_lossy();
        let setting = ["GIT_CONFIG_KEY_", "GIT_CONFIG_VALUE_"]
            .iter()
            .any(|start| own.starts_with(start));
        if own.starts_with("GIT_") && !setting && !KEPT.contains(&&*own) {
            command.env_remove(&name);
        }
    }
    // Settings that the environment gives stay, ours come behind them and win.
    let count = std::env::var("GIT_CONFIG_COUNT").ok();
    let given: usize = count.and_then(|count| count.parse().ok()).unwrap_or(0);
    command
        .env("LC_ALL", "C")
        .env("GIT_OPTIONAL_LOCKS", "0")
        .env("GIT_TERMINAL_PROMPT", "0")
        .env("GIT_NO_LAZY_FETCH", "1")
        // No protocol has this name, so every one is refused.
        .env("GIT_ALLOW_PROTOCOL", "none")
        .env("GIT_LITERAL_PATHSPECS", "1")
        .env("GIT_CONFIG_COUNT", (given + filters.len()).to_string());
    for (index, filter) in filters.iter().enumerate() {
        let number = given + index;
        let required = filter.to_string_lossy().ends_with(".required");
        command.env(format!("GIT_CONFIG_KEY_{number}"), filter).env(
            format!("GIT_CONFIG_VALUE_{number}"),
            if required { "false" } else { "" },
        );
    }
    for setting in SETTINGS {
        command.args(["-c", setting]);
    }
    command
        .arg("--no-pager")
        .args(arguments)
        .current_dir(folder)
        .stdin(if input.is_empty() {
            Stdio::null()
        } else {
            Stdio::piped()
        })
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|error| match error.kind() {
        std::io::ErrorKind::NotFound => GitFault::NotInstalled,
        _ => GitFault::Refused(error.to_string()),
    })?;
    if let Some(mut pipe) = child.stdin.take() {
        // Whoever stops reading early says so in the answer.
        std::thread::spawn(move || drop(pipe.write_all(&input)));
    }
    let deadline = Instant::now() + LONGEST;
    let answer = reader(child.stdout.take(), MOST);
    let complaint = reader(child.stderr.take(), MOST_COMPLAINT);
    let read = |from: &mpsc::Receiver<Vec<u8>>| {
        from.recv_timeout(deadline.saturating_duration_since(Instant::now()))
    };
    let Ok(answer) = read(&answer) else {
        stop(&mut child);
        return Err(GitFault::TooSlow);
    };
    if answer.len() as u64 > MOST {
        stop(&mut child);
        return Err(GitFault::TooMuch);
    }
    let complaint = read(&complaint).unwrap_or_default();
    let status = loop {
        match child.try_wait() {
            Ok(Some(status)) => break status,
            Ok(None) if Instant::now() < deadline => std::thread::sleep(Duration::from_millis(1)),
            Ok(None) => {
                stop(&mut child);
                return Err(GitFault::TooSlow);
            }
            Err(error) => {
                stop(&mut child);
                return Err(GitFault::Refused(error.to_string()));
            }
        }
    };
    Ok(Said {
        content: status.success(),
        answer,
        complaint: String::from_utf8_lossy(&complaint).into_owned(),
    })
}

/// Reads a pipe to its end in a thread of its own, one byte more than `most` at the longest.
fn reader(pipe: Option<impl Read + Send + 'static>, most: u64) -> mpsc::Receiver<Vec<u8>> {
    let (sender, receiver) = mpsc::channel();
    std::thread::spawn(move || {
        let mut bytes = Vec::new();
        if let Some(pipe) = pipe {
            // A pipe that breaks off ends the answer; the exit status of git tells the rest.
            let _ = pipe.take(most + 1).read_to_end(&mut bytes);
        }
        // Whoever asked may have given up.
        let _ = sender.send(bytes);
    });
    receiver
}

/// Ends a call that went past its bounds. One that has ended already is in order.
fn stop(child: &mut Child) {
    let _ = child.kill();
    let _ = child.wait();
}

/// The parts of an answer that ends each with a zero byte.
fn parts(answer: &[u8]) -> impl Iterator<Item = &[u8]> {
    answer
        .split(|byte| *byte == 0)
        .filter(|part| !part.is_empty())
}

#[cfg(unix)]
fn text_of(bytes: &[u8]) -> Option<OsString> {
    use std::os::unix::ffi::OsStrExt;
    Some(OsStr::from_bytes(bytes).to_owned())
}

#[cfg(not(unix))]
fn text_of(bytes: &[u8]) -> Option<OsString> {
    std::str::from_utf8(bytes).ok().map(OsString::from)
}

fn path_of(bytes: &[u8]) -> Option<PathBuf> {
    text_of(bytes).map(PathBuf::from)
}

/// A path as git writes it.
fn slashes(path: &Path) -> OsString {
    let mut written = OsString::new();
    for (index, part) in path.iter().enumerate() {
        if index > 0 {
            written.push("/");
        }
        written.push(part);
    }
    written
}
