# Whole tables of studies, as package pool takes them: DIR/pool/*.json. Curtis & Wang 1998 as means, Konstantopoulos 2011
# with districts as sites, Baker et al. 2009 as a network, and an invented network with sites, where some studies hold
# no arm of the reference, so that the site cancels in them.
dir <- file.path(commandArgs(TRUE)[1], "pool")
dir.create(dir, showWarnings = FALSE, recursive = TRUE)

write_pool <- function(name, source, studies, fit, theta, treatments, extra = list()) {
  versions <- lapply(list(R = as.character(getRversion()), metafor = as.character(packageVersion("metafor")), metadat = as.character(packageVersion("metadat"))), unbox)
  theta[theta < 1e-6 * max(theta)] <- 0
  W <- solve(extra$V0)
  X <- unname(fit$X)
  P <- W - W %*% X %*% solve(t(X) %*% W %*% X) %*% t(X) %*% W
  kr <- kenward_roger(X, extra$V0, extra$K, theta, pool = TRUE)
  gains <- lapply(seq_along(treatments), function(j) {
    c <- replace(numeric(length(treatments)), j, 1)
    list(practice = unbox(treatments[j]), log = unbox(as.numeric(fit$beta)[j]), se = unbox(as.numeric(fit$se)[j]), low = unbox(fit$ci.lb[j]), high = unbox(fit$ci.ub[j]),
      kr_se = unbox(sqrt(kr$PhiA[j, j])), kr_df = unbox(kr$df(c)))
  })
  n <- nrow(X); p <- ncol(X)
  expect <- list(theta = theta, gains = gains, q = unbox(as.numeric(fit$QE)), q_df = unbox(n - p), q_p = unbox(fit$QEp),
    i2_pct = unbox(100 * sum(theta) / (sum(theta) + (n - p) / sum(diag(P)))), weights = extra$weights)
  writeLines(toJSON(list(source = unbox(source), versions = versions, studies = studies, expect = expect), digits = NA, na = "null", null = "null"), file.path(dir, paste0(name, ".json")))
}
tightly <- list(rel.tol = 1e-10)
contrasts_of <- function(rows, V) lapply(unname(split(seq_len(nrow(rows)), factor(rows$study, levels = unique(rows$study)))), function(at) list(
  study = unbox(as.character(rows$study[at[1]])), season = if (is.null(rows$season)) NULL else unbox(rows$season[at[1]]), site = unbox(as.character(rows$site[at[1]])), reference = unbox(as.character(rows$ref[at[1]])),
  arms = as.character(rows$arm[at]), y = rows$yi[at], v = unname(as.matrix(V[at, at, drop = FALSE]))))

# Curtis & Wang 1998, Oecologia 113:299, log response ratios of means.
d <- escalc(measure = "ROM", m1i = m1i, sd1i = sd1i, n1i = n1i, m2i = m2i, sd2i = sd2i, n2i = n2i, data = dat.curtis1998)
fit <- rma(yi, vi, data = d, control = list(threshold = 1e-12, maxiter = 1000))
write_pool("curtis1998", "dat.curtis1998, log response ratios (Curtis & Wang 1998, Oecologia 113:299)",
  lapply(seq_len(nrow(d)), function(i) list(study = unbox(as.character(d$id[i])), reference = unbox("ambient"), arms = "elevated",
    mean = c(d$m2i[i], d$m1i[i]), sd = c(d$sd2i[i], d$sd1i[i]), n = c(d$n2i[i], d$n1i[i]))),
  fit, fit$tau2, "elevated", list(V0 = diag(d$vi), K = list(diag(nrow(d))), weights = as.numeric(weights(fit))))

# Colditz et al. 1994, JAMA 271:698, log risk ratios of BCG vaccination.
d <- escalc(measure = "RR", ai = tpos, bi = tneg, ci = cpos, di = cneg, data = dat.bcg)
fit <- rma(yi, vi, data = d, control = list(threshold = 1e-12, maxiter = 1000))
rows <- data.frame(study = paste(d$author, d$year), site = paste(d$author, d$year), ref = "none", arm = "vaccine", yi = as.numeric(d$yi))
write_pool("colditz1994", "dat.bcg, log risk ratios (Colditz et al. 1994, JAMA 271:698)", contrasts_of(rows, diag(d$vi)),
  fit, fit$tau2, "vaccine", list(V0 = diag(d$vi), K = list(diag(nrow(d))), weights = as.numeric(weights(fit))))

# Konstantopoulos 2011, Research Synthesis Methods 2:61, three levels.
d <- dat.konstantopoulos2011
fit <- rma.mv(yi, vi, random = ~ 1 | district/study, data = d, control = tightly)
rows <- data.frame(study = d$study, site = d$district, ref = "usual", arm = "modified", yi = as.numeric(d$yi))
write_pool("konstantopoulos2011", "dat.konstantopoulos2011, districts as sites (Konstantopoulos 2011, Research Synthesis Methods 2:61)", contrasts_of(rows, diag(d$vi)),
  fit, rev(fit$sigma2), "modified", list(V0 = diag(d$vi), K = list(diag(nrow(d)), outer(d$district, d$district, "=="))))

# Baker et al. 2009, Pharmacotherapy 29:891, log odds ratios; half a case in every arm of a study with an empty one.
d <- dat.baker2009
d$study <- paste(d$study, d$id)
zero <- d$study %in% d$study[d$exac == 0 | d$exac == d$total]
d$lo <- log((d$exac + 0.5 * zero) / (d$total - d$exac + 0.5 * zero))
d$lv <- 1 / (d$exac + 0.5 * zero) + 1 / (d$total - d$exac + 0.5 * zero)
rows <- do.call(rbind, lapply(unname(split(d, factor(d$study, levels = unique(d$study)))), function(s) {
  s <- s[order(s$treatment != "Placebo"), ]
  data.frame(study = s$study[1], site = s$study[1], ref = s$treatment[1], arm = s$treatment[-1], yi = s$lo[-1] - s$lo[1], vi = s$lv[-1] + s$lv[1], shared = s$lv[1])
}))
V <- outer(rows$study, rows$study, "==") * rows$shared
diag(V) <- rows$vi
treatments <- setdiff(sort(unique(d$treatment)), "Placebo")
X <- sapply(treatments, function(t) (rows$arm == t) - (rows$ref == t))
rows$contrast <- paste(rows$arm, rows$ref)
fit <- rma.mv(yi, V, mods = X, intercept = FALSE, random = ~ contrast | study, rho = 1/2, data = rows, control = tightly)
half <- function(study) (diag(length(study)) + outer(study, study, "==")) / 2
write_pool("baker2009", "dat.baker2009, log odds ratios, network (Baker et al. 2009, Pharmacotherapy 29:891)", contrasts_of(rows, V),
  fit, fit$tau2, treatments, list(V0 = V, K = list(half(rows$study))))

# Invented: 40 studies on 12 sites, of two to four arms, a quarter of them without the reference; then of eight seasons
# besides, of which one is a freak in which all studies of three arms and more stand, and of practices that differ by site.
invented_network <- function(name, source, seasons) {
  practices <- c("b", "c", "d", "e")
  truth <- c(a = 0, b = 0.27, c = 0.49, d = 0.54, e = 0.14)
  site_effect <- rnorm(12, 0, 0.15)
  if (seasons) { season_effect <- c(rnorm(7, 0, 0.15), 0.45); local <- matrix(rnorm(12 * 5, 0, 0.1), 12, dimnames = list(NULL, names(truth))) }
  rows <- do.call(rbind, lapply(1:40, function(s) {
    site <- sample(12, 1)
    arms <- sort(sample(practices, sample(1:3, 1, prob = c(5, 3, 2))))
    if (s %% 4 == 0) arms <- sort(sample(practices, 2)) else arms <- c("a", arms)
    v <- runif(length(arms), 0.001, 0.01)
    l <- truth[arms] + (arms != "a") * site_effect[site] + rnorm(length(arms), 0, 0.1) + rnorm(length(arms), 0, sqrt(v))
    out <- data.frame(study = paste("study", s), site = paste("site", site), ref = arms[1], arm = arms[-1], vi = v[-1] + v[1], shared = v[1])
    if (seasons) { out$season <- 2000L + (if (length(arms) > 2) 8L else sample(7L, 1)); l <- l + (arms != "a") * season_effect[out$season[1] - 2000] + local[site, arms] }
    out$yi <- l[-1] - l[1]
    out
  }))
  V <- outer(rows$study, rows$study, "==") * rows$shared
  diag(V) <- rows$vi
  X <- sapply(practices, function(t) (rows$arm == t) - (rows$ref == t))
  z <- (rows$arm != "a") - (rows$ref != "a")
  K <- outer(rows$site, rows$site, "==") * outer(z, z)
  # In metafor: a site's effect that is not in every row is one with its own known correlation between rows.
  rows$row <- factor(seq_len(nrow(rows)))
  dimnames(K) <- list(rows$row, rows$row)
  rows$contrast <- paste(rows$arm, rows$ref)
  fit <- rma.mv(yi, V, mods = X, intercept = FALSE, random = list(~ contrast | study, ~ 1 | row), rho = 1/2, R = list(row = K), Rscale = "none", data = rows, control = tightly)
  write_pool(name, source, contrasts_of(rows, V), fit, c(fit$tau2, fit$sigma2), practices, list(V0 = V, K = list(half(rows$study), K)))
}
set.seed(20170401)
invented_network("invented-network", "invented: 40 studies on 12 sites, some without the reference", FALSE)
invented_network("invented-seasons", "invented: 40 studies on 12 sites, all of three arms and more in one season", TRUE)
