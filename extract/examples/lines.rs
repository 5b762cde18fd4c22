//! Reads notes, one JSON object a line, on standard input and prints their entries.

fn main() -> std::io::Result<()> {
    let all =
        extract::lines::run(std::io::stdin().lock(), std::io::BufWriter::new(std::io::stdout().lock()))?;
    std::process::exit(i32::from(!all));
}
