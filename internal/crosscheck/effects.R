# Effect sizes with moderated variances: DIR/effects/*.json. The prior of Smyth 2004 is put together from limma's own pieces
# (fitFDist for the mean and the excess variance of the log variances, trigammaInverse, the posterior of .squeezeVar);
# the rest is written out in whole vectors and matrices.
suppressMessages(library(limma))
dir <- file.path(commandArgs(TRUE)[1], "effects")
dir.create(dir, showWarnings = FALSE, recursive = TRUE)

# x, d0 and s0^2 of some arms: the excess variance of ln CV^2 held toward 0.35, which counts as four arms.
prior <- function(cv2, d, x = NULL) {
  e <- log(cv2) - digamma(d / 2) + log(d / 2)
  excess <- var(e) - mean(trigamma(d / 2))
  if (length(cv2) > 2) {
    f <- fitFDist(cv2, d)
    if (is.finite(f$df2)) stopifnot(abs(trigamma(f$df2 / 2) - excess) < 1e-6 * excess, # limma has the same excess and mean
      abs(log(f$scale) - (mean(e) + digamma(f$df2 / 2) - log(f$df2 / 2))) < 1e-8)
  }
  if (is.null(x)) x <- min(max(((length(e) - 1) * excess + 4 * 0.35) / (length(e) + 3), 0.05), 1)
  d0 <- 2 * trigammaInverse(x)
  list(x = x, d0 = d0, s02 = exp(mean(e) + digamma(d0 / 2) - log(d0 / 2)))
}

# d: one row an arm with study, unit, kind, practice (the reference first), mean, n, sd, se, gain, low, high.
write_effects <- function(name, source, d) {
  for (col in c("mean", "n", "sd", "se", "gain", "low", "high")) if (is.null(d[[col]])) d[[col]] <- NA_real_
  sd <- ifelse(is.na(d$sd), d$se * sqrt(d$n), d$sd)
  has <- !is.na(sd) & !is.na(d$n) & d$n >= 2
  cv2 <- (sd / d$mean)^2
  all <- prior(cv2[has], d$n[has] - 1, x = 0.35)
  priors <- lapply(split(seq_len(nrow(d)), paste("kind", d$unit)), function(at) {
    own <- at[has[at]]
    n <- d$n[at][!is.na(d$n[at])]
    p <- if (length(own) >= 2) prior(cv2[own], d$n[own] - 1) else all
    c(p, list(per = if (length(n) >= 3) mean(1 / n) else 1))
  })
  q <- sapply(seq_len(nrow(d)), function(i) {
    p <- priors[[paste("kind", d$unit[i])]]
    if (has[i]) return(limma:::.squeezeVar(cv2[i], d$n[i] - 1, p$s02, p$d0) / d$n[i])
    if (is.na(d$n[i]) && !is.na(d$se[i])) return((d$se[i] / d$mean[i])^2)
    stands <- p$s02 * p$d0 / (p$d0 - 2)
    if (!is.na(d$n[i])) return(stands / d$n[i])
    if (d$kind[i] == "unreplicated") stands else stands * p$per
  })
  l <- ifelse(is.na(d$mean), 0, log(d$mean)) + q / 2
  s <- q + q^2 / 2
  studies <- lapply(unname(split(seq_len(nrow(d)), factor(d$study, levels = unique(d$study)))), function(at) {
    r <- at[1]; arms <- at[-1]
    own <- !is.na(d$low[arms])
    se <- (log1p(d$high[arms] / 100) - log1p(d$low[arms] / 100)) / 3.92
    shared <- ifelse(own, suppressWarnings(min(se[own]))^2 / 2, ifelse(is.na(d$gain[arms]) | !is.na(d$n[r]), s[r], s[arms]))
    y <- ifelse(is.na(d$gain[arms]), l[arms] - l[r], log1p(d$gain[arms] / 100))
    V <- outer(shared, shared, pmin)
    diag(V) <- ifelse(own, se^2, s[arms] + shared)
    list(study = unbox(d$study[r]), unit = unbox(d$unit[r]), kind = unbox(d$kind[r]), practice = d$practice[at], mean = d$mean[at], n = d$n[at],
      sd = d$sd[at], se = d$se[at], gain = d$gain[at], low = d$low[at], high = d$high[at], y = y, v = V)
  })
  versions <- lapply(list(R = as.character(getRversion()), limma = as.character(packageVersion("limma"))), unbox)
  names(priors) <- sub("kind ", "", names(priors))
  cvs <- lapply(priors, function(p) unbox(sqrt(p$s02 * p$d0 / (p$d0 - 2))))
  writeLines(toJSON(list(source = unbox(source), versions = versions, studies = studies, cv = cvs), digits = NA, na = "null", null = "null"), file.path(dir, paste0(name, ".json")))
}

# Curtis & Wang 1998, Oecologia 113:299: means, SD and n of groups of three to a few dozen plants, on one kind of unit.
d <- dat.curtis1998
arm <- function(practice, m, sd, n) data.frame(study = paste(d$id), unit = "tree", kind = "replicated", practice = practice, mean = m, sd = sd, n = n)
rows <- rbind(arm("unsanitized", d$m2i, d$sd2i, d$n2i), arm("new-spout", d$m1i, d$sd1i, d$n1i))
write_effects("curtis1998", "dat.curtis1998 (Curtis & Wang 1998, Oecologia 113:299)", rows[order(rep(seq_len(nrow(d)), 2)), ])

# Invented: a table with everything that a row may state or leave out.
set.seed(20180322)
lines <- list()
study <- function(.name, .unit, .kind, .practice, ...) lines[[length(lines) + 1]] <<- data.frame(study = .name, unit = .unit, kind = .kind, practice = .practice, ...)
for (i in 1:6) study(paste("chambers", i), "chamber", "replicated", c("unsanitized", "new-spout", "check-valve"),
  mean = round(c(60, 78, 90) * exp(rnorm(3, 0, 0.1)), 1), sd = round(c(60, 78, 90) * 0.2 * exp(rnorm(3, 0, 0.5)), 2), n = sample(3:8, 3, TRUE))
study("trees", "tree", "replicated", c("unsanitized", "new-spout"), mean = c(52, 66), se = c(4.1, 6.3), n = c(30, 28))
study("an SE without n", "chamber", "replicated", c("unsanitized", "new-spout"), mean = c(58, 71), se = c(4.5, 3.9))
study("n without an SD", "chamber", "replicated", c("unsanitized", "check-valve"), mean = c(58, 85), n = c(5, 4))
study("one SD", "mainline", "replicated", c("unsanitized", "new-spout", "check-valve"), mean = c(50, 63, 71), sd = c(6, NA, NA), n = c(4, 4, 3))
study("neither", "mainline", "", c("unsanitized", "new-spout"), mean = c(50, 61))
study("too few state n", "tree", "", c("unsanitized", "check-valve"), mean = c(44, 71))
study("unreplicated", "chamber", "unreplicated", c("unsanitized", "new-spout"), mean = c(50, 66))
study("no kind", "", "replicated", c("unsanitized", "new-spout"), mean = c(40, 55), sd = c(3, 9), n = c(6, 6))
study("a gain with n", "chamber", "replicated", c("unsanitized", "new-spout"), gain = c(NA, 24), n = c(NA, 6))
study("gains with n, the reference's too", "chamber", "replicated", c("unsanitized", "new-spout", "check-valve"), gain = c(NA, 24, 40), n = c(9, 6, 6))
study("a gain alone", "chamber", "", c("unsanitized", "check-valve"), gain = c(NA, 44))
study("intervals", "chamber", "replicated", c("unsanitized", "new-spout", "check-valve"), gain = c(NA, 20, 41), low = c(NA, 2, 18), high = c(NA, 43, 70))
full <- function(x) { for (col in c("mean", "n", "sd", "se", "gain", "low", "high")) if (is.null(x[[col]])) x[[col]] <- NA_real_; x }
cols <- c("study", "unit", "kind", "practice", "mean", "n", "sd", "se", "gain", "low", "high")
write_effects("invented", "invented: everything that a row may state or leave out", do.call(rbind, lapply(lines, function(x) full(x)[, cols])))
