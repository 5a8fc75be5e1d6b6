# Sections that share hours, cash and a quota, as a mixed-integer program that lpSolve solves by branch and bound: each
# takes one move a season from the state it has come to; what is used beyond a cap is forbidden (a wall) or pays a toll.
# Invented numbers. Writes plan/*.json, which package plan reads.
suppressMessages(library(lpSolve))
dir.create(file.path(commandArgs(TRUE)[1], "plan"), showWarnings = FALSE)

write_plan <- function(name, seed, sections, seasons, states, toll) {
  set.seed(seed)
  discount <- round(0.95^(seq_len(seasons) - 1), 6); after <- 0.7
  resources <- length(toll)
  blocks <- lapply(seq_len(sections), function(i) list(start = sample(states, 1) - 1L, left = round(runif(states, 0, 20), 3),
    moves = lapply(seq_len(seasons), function(t) lapply(seq_len(states), function(s) c(
      list(list(to = sample(states, 1) - 1L, worth = 0, use = rep(0, resources))),
      lapply(seq_len(sample(1:3, 1)), function(m) list(to = sample(states, 1) - 1L, worth = round(runif(1, -10, 100), 3),
        use = round(runif(resources, 0, 10), 3))))))))
  caps <- matrix(round(runif(seasons * resources, 3, 4 * sections), 3), seasons)
  v <- do.call(rbind, lapply(seq_along(blocks), function(b) do.call(rbind, lapply(seq_len(seasons), function(t)
    do.call(rbind, lapply(seq_len(states), function(s) do.call(rbind, lapply(blocks[[b]]$moves[[t]][[s]], function(m)
      do.call(data.frame, c(list(b = b, t = t, s = s, to = m$to + 1, worth = discount[t] * m$worth +
        (if (t == seasons) after * blocks[[b]]$left[m$to + 1] else 0)), setNames(as.list(m$use), paste0("use.", seq_len(resources)))))))))))))
  n <- nrow(v); over <- seasons * resources; columns <- n + over
  A <- NULL; dir <- NULL; rhs <- NULL
  add <- function(row, d, r) { A <<- rbind(A, row); dir <<- c(dir, d); rhs <<- c(rhs, r) }
  for (b in seq_along(blocks)) for (t in seq_len(seasons)) for (s in seq_len(states)) {
    row <- numeric(columns); row[which(v$b == b & v$t == t & v$s == s)] <- 1
    if (t > 1) { from <- which(v$b == b & v$t == t - 1 & v$to == s); row[from] <- row[from] - 1 }
    add(row, "=", if (t == 1 && s == blocks[[b]]$start + 1) 1 else 0)
  }
  for (t in seq_len(seasons)) for (k in seq_len(resources)) {
    row <- numeric(columns); at <- which(v$t == t); row[at] <- v[at, paste0("use.", k)]
    if (is.finite(toll[k])) row[n + (k - 1) * seasons + t] <- -1
    add(row, "<=", caps[t, k])
  }
  paid <- as.numeric(sapply(toll, function(p) if (is.finite(p)) -discount * p else rep(0, seasons)))
  got <- lp("max", c(v$worth, paid), A, dir, rhs, binary.vec = seq_len(n))
  stopifnot(got$status == 0)
  writeLines(toJSON(list(source = unbox("invented; lpSolve"), versions = list(R = unbox(as.character(getRversion())),
    lpSolve = unbox(as.character(packageVersion("lpSolve")))), discount = discount, after = unbox(after),
    toll = ifelse(is.finite(toll), toll, -1), caps = caps, blocks = lapply(blocks, function(b) list(start = unbox(b$start),
      left = b$left, moves = lapply(b$moves, function(t) lapply(t, function(s) lapply(s, function(m)
        list(to = unbox(m$to), worth = unbox(m$worth), use = m$use)))))), best = unbox(got$objval)), digits = NA),
    file.path(commandArgs(TRUE)[1], "plan", paste0(name, ".json")))
}

write_plan("walls", 1, 4, 4, 3, c(Inf, Inf))
write_plan("quota", 2, 4, 4, 3, 6)
write_plan("both", 3, 4, 5, 3, c(Inf, 4))
write_plan("many", 4, 7, 4, 2, c(Inf, 2))
write_plan("long", 5, 3, 8, 3, c(Inf, Inf, 1))
