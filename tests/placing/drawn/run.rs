//! Runs the program on one core and sees what it took.

use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::mpsc;
use std::time::{Duration, Instant};

use wait4::Wait4;

/// How a command ended and what it took.
pub struct Ran {
    /// `None`: it was stopped because it went on too long.
    pub code: Option<i32>,
    pub stdout: String,
    pub stderr: String,
    /// Time of the processor, the system's share in it.
    pub cpu: Duration,
    /// The most memory that it held, bytes.
    pub most_bytes: u64,
    /// Each line of progress with the time from it to the next, the longest first.
    pub stages: Vec<(String, Duration)>,
}

/// Runs `program` in `folder` with one thread, and stops it after `longest`.
pub fn run(program: &Path, folder: &Path, arguments: &[String], longest: Duration) -> Ran {
    let mut command = Command::new(program);
    command.current_dir(folder).args(arguments).env("RAYON_NUM_THREADS", "1");
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let (mut out, err) = (child.stdout.take().unwrap(), child.stderr.take().unwrap());
    let reading = std::thread::spawn(move || {
        let mut text = String::new();
        out.read_to_string(&mut text).unwrap();
        text
    });
    let following = std::thread::spawn(move || {
        let lines = BufReader::new(err).lines();
        lines.map(|line| (line.unwrap(), Instant::now())).collect::<Vec<(String, Instant)>>()
    });
    let (ended, end) = mpsc::channel::<()>();
    let id = child.id().to_string();
    let watching = std::thread::spawn(move || {
        let is_late = end.recv_timeout(longest) == Err(mpsc::RecvTimeoutError::Timeout);
        if is_late {
            Command::new("kill").args(["-9", &id]).status().unwrap();
        }
        is_late
    });
    let used = child.wait4().unwrap();
    drop(ended);
    let was_stopped = watching.join().unwrap();
    let lines = following.join().unwrap();
    let ends = lines.iter().skip(1).map(|(_, at)| *at).chain([Instant::now()]);
    let mut stages: Vec<(String, Duration)> =
        lines.iter().zip(ends).map(|((line, from), to)| (line.clone(), to - *from)).collect();
    stages.sort_by_key(|(_, took)| std::cmp::Reverse(*took));
    Ran {
        code: used.status.code().filter(|_| !was_stopped),
        stdout: reading.join().unwrap(),
        stderr: lines.iter().map(|(line, _)| format!("{line}\n")).collect(),
        cpu: used.rusage.utime + used.rusage.stime,
        most_bytes: used.rusage.maxrss,
        stages,
    }
}
