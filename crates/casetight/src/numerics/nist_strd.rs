#[cfg(test)]
mod placeholder {}
