# The joint model of all studies, integrated over its variances by JAGS: DIR/jags/*.json, tables with what is left known
# of the log gains. Half-normal priors on the standard deviations; flat levels and gains; a gain of drops over a yearly
# new spout that fades by one of two curves, each with chance one half, whose half-life is even in its logarithm from 0.5 to 12.
suppressMessages(library(rjags))
dir <- file.path(commandArgs(TRUE)[1], "jags")
dir.create(dir, showWarnings = FALSE)

# A study: site, season, trial ("" where not repeated), arms (practice, effect from 1 or 0 for unsanitized, drop 0 or 1,
# age), and either log and v, the measured arms, or rows (arm, ref, y) with covariance V. An arm may have its own season.
arm <- function(practice, log = NA, v = NA, effect = practice, drop = 0, age = 0, season = NA)
  data.frame(practice, effect, drop, age, log, v, season)
study <- function(site, season, ..., trial = "", rows = NULL, V = NULL) list(site = site, season = season, trial = trial, arms = rbind(...), rows = rows, V = V)

# Every study is contrasts with its first arm, made independent of each other: then no level is left, and all that is normal
# is drawn as one block (JAGS's module glm).
model <- function(ageing) paste(c("model {
  for (i in 1:arms) {
    g[i] <- inprod(beta, X[i, ]) + z[i] * (u[site[i]] + v[season[i]]) + w[place[i]] + e[i]",
  if (ageing) "      + drop[i] * delta * f[i]
    f[i] <- curve * exp(-log(2) * age[i] / h) + (1 - curve) * max(0, 1 - age[i] / (2 * h))", "
    e[i] ~ dnorm(0, 2 / (tau * tau))
  }
  for (r in 1:rows) { y[r] ~ dnorm(inprod(D[r, ], g), 1) }
  for (k in 1:effects) { beta[k] ~ dnorm(0, 1e-4) }
  for (k in 1:sites) { u[k] ~ dnorm(0, 1 / (sigma.u * sigma.u)) }
  for (k in 1:seasons) { v[k] ~ dnorm(0, 1 / (sigma.v * sigma.v)) }
  for (k in 1:places) { w[k] ~ dnorm(0, 2 / (sigma.w * sigma.w)) }
  tau ~ dnorm(0, 1 / (0.25 * 0.25)) T(1e-4, )
  sigma.u ~ dnorm(0, 1 / (0.15 * 0.15)) T(1e-4, )
  sigma.v ~ dnorm(0, 1 / (0.15 * 0.15)) T(1e-4, )
  sigma.w ~ dnorm(0, 1 / (0.10 * 0.10)) T(1e-4, )",
  if (ageing) "
  delta ~ dnorm(0, 1)
  curve ~ dbern(0.5)
  lh ~ dunif(log(0.5), log(12))
  h <- exp(lh)
  for (a in 1:length(ages)) {
    old[a] <- beta[1] + delta * (curve * exp(-log(2) * ages[a] / h) + (1 - curve) * max(0, 1 - ages[a] / (2 * h)))
  }", "
}"), collapse = "\n")

write_jags <- function(name, source, studies, ages = NULL, iterations = 400000) {
  arms <- do.call(rbind, lapply(seq_along(studies), function(k) {
    s <- studies[[k]]
    cbind(s$arms, site = s$site, trial = s$trial, own = ifelse(is.na(s$arms$season), s$season, s$arms$season))
  }))
  effects <- max(arms$effect)
  X <- matrix(0, nrow(arms), effects)
  X[cbind(which(arms$effect > 0), arms$effect[arms$effect > 0])] <- 1
  D <- NULL; y <- NULL; first <- 0
  for (s in studies) {
    n <- nrow(s$arms)
    if (is.null(s$rows)) {
      C <- cbind(-1, diag(n - 1)); d <- C %*% s$arms$log; V <- C %*% diag(s$arms$v) %*% t(C)
    } else {
      C <- matrix(0, nrow(s$rows), n); d <- s$rows$y; V <- s$V
      C[cbind(seq_len(nrow(C)), s$rows$arm)] <- 1; C[cbind(seq_len(nrow(C)), s$rows$ref)] <- -1
    }
    W <- solve(t(chol(V)))
    whole <- matrix(0, nrow(C), nrow(arms)); whole[, first + seq_len(n)] <- W %*% C
    D <- rbind(D, whole); y <- c(y, W %*% d); first <- first + n
  }
  code <- function(x) as.integer(factor(x, levels = unique(x)))
  data <- list(arms = nrow(arms), X = X, z = as.numeric(arms$effect > 0), site = code(arms$site), season = code(arms$own),
    place = code(paste(arms$site, arms$trial, arms$practice)), effects = effects, rows = length(y), D = D, y = y)
  data$sites <- max(data$site); data$seasons <- max(data$season); data$places <- max(data$place)
  watch <- c("beta", "tau", "sigma.u", "sigma.v", "sigma.w")
  if (!is.null(ages)) { data <- c(data, list(drop = arms$drop, age = arms$age, ages = ages)); watch <- c(watch, "old", "h") }
  load.module("glm", quiet = TRUE)
  init <- lapply(1:4, function(i) list(tau = 0.1, sigma.u = 0.1, sigma.v = 0.1, sigma.w = 0.05, .RNG.name = "base::Mersenne-Twister", .RNG.seed = i))
  m <- jags.model(textConnection(model(!is.null(ages))), data, init, 4, 1000, quiet = TRUE)
  update(m, 5000, progress.bar = "none")
  draws <- coda.samples(m, watch, iterations / 4, thin = 4, progress.bar = "none")
  all <- as.matrix(draws)
  told <- function(x) c(mean = mean(x), sd = sd(x), low = quantile(x, 0.025, names = FALSE), high = quantile(x, 0.975, names = FALSE))
  gain <- function(k) all[, if (effects == 1) "beta" else paste0("beta[", k, "]")]
  se <- summary(draws)$statistics[, "Time-series SE"]
  expect <- list(beta = t(sapply(seq_len(effects), function(k) told(gain(k)))),
    variances = sapply(c("tau", "sigma.u", "sigma.v", "sigma.w"), function(k) mean(all[, k]^2)))
  z <- (all[, "sigma.u"]^2 + all[, "sigma.v"]^2) / 2
  expect$long_run <- sapply(seq_len(effects), function(k) mean(exp(gain(k) + z)) - 1)
  if (!is.null(ages)) {
    expect$ages <- ages
    expect$old <- t(sapply(seq_along(ages), function(a) told(all[, paste0("old[", a, "]")])))
    expect$half_life <- quantile(all[, "h"], c(0.025, 0.5, 0.975), names = FALSE)
  }
  expect$error <- unbox(max(se[grepl("beta|old", names(se))])) # of the means, by the spread over the chains' time
  versions <- lapply(list(R = as.character(getRversion()), rjags = as.character(packageVersion("rjags")), JAGS = as.character(jags.version())), unbox)
  out <- lapply(studies, function(s) list(site = unbox(s$site), season = unbox(s$season), trial = unbox(s$trial), arms = s$arms, rows = s$rows, v = s$V))
  writeLines(toJSON(list(source = unbox(source), versions = versions, studies = out, expect = expect), digits = NA, na = "null", null = "null"), file.path(dir, paste0(name, ".json")))
}

write_jags("arms", "invented: six studies of measured arms", list(
  study("a", 2020, arm(0, 0, .010), arm(1, .28, .010), arm(2, .45, .012)),
  study("a", 2021, arm(0, 0, .006), arm(1, .36, .006)),
  study("b", 2021, arm(0, 0, .02), arm(1, .17, .02), arm(3, .62, .02)),
  study("b", 2022, arm(0, 0, .008), arm(2, .31, .008)),
  study("c", 2022, arm(1, 0, .005), arm(2, .12, .005), arm(3, .21, .005)),
  study("d", 2023, arm(0, 0, .015), arm(1, .50, .015))))

# New drops, practice 2, age toward the new spout, practice 1.
drop <- function(log, v, age) arm(2, log, v, effect = 1, drop = 1, age = age)
set.seed(20191102)
write_jags("ageing", "invented: ten studies, drops of ages 0 to 6", lapply(1:10, function(k) {
  age <- c(0, 0, 1, 2, 2, 3, 4, 5, 6, 1)[k]
  v <- c(.004, .008, .006, .005, .009, .006, .004, .007, .005, .006)[k]
  e <- rnorm(3, 0, sqrt(v) + 0.05)
  study(c("a", "a", "b", "c", "b", "d", "a", "e", "c", "f")[k], c(2015, 2016, 2016, 2017, 2018, 2018, 2019, 2020, 2021, 2021)[k],
    arm(0, 0 + e[1], v), arm(1, .25 + e[2], v), drop(.25 + .3 * exp(-log(2) * age / 2.5) + e[3], v, age))
}), ages = c(0, 2, 5), iterations = 800000)

# A trial of three seasons on the same units, as contrasts with their covariance over the seasons, beside a reported gain
# and studies of measured arms.
V <- matrix(0.003, 6, 6) + diag(0.006, 6)
for (k in 1:3) V[2 * k - 1, 2 * k] <- V[2 * k, 2 * k - 1] <- 0.006
write_jags("repeated", "invented: a trial of three seasons by its contrasts, beside four studies", list(
  study("a", 2021, arm(0, season = 2019), arm(1, season = 2019), arm(2, season = 2019), arm(0, season = 2020), arm(1, season = 2020), arm(2, season = 2020),
    arm(0), arm(1), arm(2), trial = "long", rows = data.frame(arm = c(2, 3, 5, 6, 8, 9), ref = c(1, 1, 4, 4, 7, 7), y = c(.31, .52, .12, .36, .40, .55)), V = V),
  study("a", 2019, arm(0, 0, .006), arm(1, .22, .007)),
  study("b", 2020, arm(0, 0, .009), arm(1, .19, .009), arm(2, .50, .012)),
  study("c", 2021, arm(0), arm(2), rows = data.frame(arm = 2, ref = 1, y = log(1.48)), V = matrix(0.008)),
  study("d", 2022, arm(1, 0, .004), arm(2, .11, .005))))
