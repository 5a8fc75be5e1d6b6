# The joint model of open tables integrated over its variances by a product of midpoint rules: DIR/mixture/*.json, for the
# tables that pool.R wrote into DIR/pool, each study a season of its own. Half-normal priors, flat gains. It is brute
# force on whole matrices: each point of a grid of four standard deviations is a mixed model with its likelihood.
from <- file.path(commandArgs(TRUE)[1], "pool")
dir <- file.path(commandArgs(TRUE)[1], "mixture")
dir.create(dir, showWarnings = FALSE)

write_mixture <- function(name, points) {
  case <- fromJSON(file.path(from, paste0(name, ".json")), simplifyVector = FALSE)
  t <- rows_of(case)
  d <- t$rows; X <- t$X; y <- d$yi; n <- nrow(d)
  sanitized <- function(x) (x %in% colnames(X)) * 1
  z <- sanitized(d$arm) - sanitized(d$ref)
  same <- function(a, b) outer(a, b, "==") * 1
  half <- function(place) { # arms that are the same practice at the same place, +1 on the arm of a row and -1 on its reference
    a <- paste(place, d$arm); r <- paste(place, d$ref)
    (same(a, a) + same(r, r) - same(a, r) - same(r, a)) / 2
  }
  K <- list(half(d$study), same(d$site, d$site) * outer(z, z), same(d$study, d$study) * outer(z, z), half(d$site))
  scales <- c(0.25, 0.15, 0.15, 0.10)
  rule <- lapply(1:4, function(k) { s <- (seq_len(points[k]) - 0.5) / points[k] * 6 * scales[k]; data.frame(s, l = -(s / scales[k])^2 / 2) })
  grid <- expand.grid(lapply(points, seq_len))
  p <- ncol(X)
  out <- apply(grid, 1, function(i) {
    V <- t$V; l <- 0
    for (k in 1:4) { V <- V + rule[[k]]$s[i[k]]^2 * K[[k]]; l <- l + rule[[k]]$l[i[k]] }
    U <- chol(V)
    A <- backsolve(U, X, transpose = TRUE); b <- backsolve(U, y, transpose = TRUE)
    M <- crossprod(A); C <- chol(M); beta <- backsolve(C, backsolve(C, crossprod(A, b), transpose = TRUE))
    l <- l - sum(log(diag(U))) - sum(log(diag(C))) - (sum(b^2) - sum(crossprod(A, b) * beta)) / 2
    c(l, beta, sqrt(diag(chol2inv(C))))
  })
  w <- exp(out[1, ] - max(out[1, ])); w <- w / sum(w)
  gains <- lapply(seq_len(p), function(j) {
    m <- out[1 + j, ]; s <- out[1 + p + j, ]
    mean <- sum(w * m); sd <- sqrt(sum(w * (s^2 + (m - mean)^2)))
    q <- function(at) uniroot(function(x) sum(w * pnorm(x, m, s)) - at, mean + c(-10, 10) * sd, tol = 1e-9)$root
    list(practice = unbox(colnames(X)[j]), mean = unbox(mean), sd = unbox(sd), low = unbox(q(0.025)), high = unbox(q(0.975)))
  })
  versions <- list(R = unbox(as.character(getRversion())))
  studies <- lapply(unique(d$study), function(s) { at <- which(d$study == s)
    list(study = unbox(s), site = unbox(d$site[at[1]]), reference = unbox(d$ref[at[1]]), arms = d$arm[at], y = y[at], v = unname(t$V[at, at, drop = FALSE])) })
  writeLines(toJSON(list(source = unbox(case$source[[1]]), versions = versions, studies = studies, gains = gains), digits = NA), file.path(dir, paste0(name, ".json")))
}
for (name in c("curtis1998", "colditz1994", "konstantopoulos2011", "baker2009")) write_mixture(name, c(24, 12, 12, 12))
