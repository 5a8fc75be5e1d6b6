# What a pool can be trusted with: DIR/trust/*.json, for the tables that pool.R wrote into DIR/pool. Leaving one study out,
# studentized residuals, the regression of Egger et al. 1997 and the design-by-treatment test by refits of rma.mv, CR2 by
# clubSandwich, selection by metafor's selmodel with the weights of Vevea & Woods 2005, and what the others foretell at a
# study's own site by whole matrices.
suppressMessages(library(clubSandwich))
from <- file.path(commandArgs(TRUE)[1], "pool")
dir <- file.path(commandArgs(TRUE)[1], "trust")
dir.create(dir, showWarnings = FALSE, recursive = TRUE)

write_trust <- function(name, sites, designs) {
  case <- fromJSON(file.path(from, paste0(name, ".json")), simplifyVector = FALSE)
  t <- rows_of(case)
  d <- t$rows; V <- t$V; X <- t$X; n <- nrow(d)
  d$row <- factor(seq_len(n)); d$contrast <- paste(d$arm, d$ref)
  sanitized <- function(x) (x %in% colnames(X)) * 1
  z <- sanitized(d$arm) - sanitized(d$ref)
  K <- outer(d$site, d$site, "==") * outer(z, z); dimnames(K) <- list(d$row, d$row)
  half <- (diag(n) + outer(d$study, d$study, "==")) / 2
  fit_on <- function(keep, X) {
    d <- d[keep, ]; d$row <- factor(as.character(d$row)); d$contrast <- factor(d$contrast)
    random <- list(~ contrast | study)
    if (length(unique(d$contrast)) == 1 || all(!duplicated(d$study))) random <- list(~ 1 | study)
    whole <- all(z == 1) # then an effect of the site is in every row
    if (sites) random <- c(random, if (whole) ~ 1 | site else ~ 1 | row)
    args <- list(yi = d$yi, V = V[keep, keep], mods = X[keep, , drop = FALSE], intercept = FALSE, random = random, rho = 1/2, data = d, control = list(rel.tol = 1e-10))
    if (sites && !whole) args <- c(args, list(R = list(row = K[keep, keep]), Rscale = "none"))
    suppressWarnings(do.call(rma.mv, args))
  }
  marginal <- function(fit) { # at the fit's variances, over all rows: study and site
    t2 <- if ("study" %in% fit$s.names) fit$sigma2[match("study", fit$s.names)] else fit$tau2
    s2 <- if (sites) fit$sigma2[match(if (all(z == 1)) "site" else "row", fit$s.names)] else 0
    list(study = t2, site = s2, V = V + t2 * half + s2 * K)
  }
  all <- seq_len(n)
  fit <- fit_on(all, X)

  # Each study left out, with what the others say of it.
  out <- lapply(unique(d$study), function(s) {
    gone <- which(d$study == s); keep <- setdiff(all, gone)
    f <- tryCatch(fit_on(keep, X), error = function(e) NULL)
    if (is.null(f) || nrow(f$beta) < ncol(X)) return(list(study = unbox(s)))
    M <- marginal(f)
    b <- as.numeric(f$beta); P <- f$vb
    resid <- d$yi[gone] - as.numeric(X[gone, , drop = FALSE] %*% b)
    se <- sqrt(diag(M$V[gone, gone, drop = FALSE] + X[gone, , drop = FALSE] %*% P %*% t(X[gone, , drop = FALSE])))
    W <- solve(M$V[keep, keep]); cross <- M$V[gone, keep, drop = FALSE]
    mean <- as.numeric(X[gone, , drop = FALSE] %*% b + cross %*% W %*% (d$yi[keep] - X[keep, , drop = FALSE] %*% b))
    D <- X[gone, , drop = FALSE] - cross %*% W %*% X[keep, , drop = FALSE]
    sd <- sqrt(diag(M$V[gone, gone, drop = FALSE] - cross %*% W %*% t(cross) + D %*% P %*% t(D)))
    list(study = unbox(s), theta = c(M$study, M$site), beta = b, resid = resid, se = se, z = resid / se, mean = mean,
      low = mean - qnorm(0.975) * sd, high = mean + qnorm(0.975) * sd)
  })

  # Small studies.
  against <- !(d$ref %in% colnames(X))
  se <- sqrt(diag(V))
  egger <- NULL
  if (diff(range(se[against])) > 0) {
    f <- fit_on(all, cbind(X, small = ifelse(against, se, 0)))
    k <- ncol(X) + 1
    delta <- (max(se[against]) - min(se[against]))
    d1 <- log(1.2) / delta / f$se[k]
    egger <- list(slope = unbox(as.numeric(f$beta)[k]), se = unbox(f$se[k]), p = unbox(f$pval[k]), power = unbox(pnorm(d1 - qnorm(0.975)) + pnorm(-d1 - qnorm(0.975))))
  }

  # Selection: comparisons with the reference as independent.
  steps <- c(0.005, 0.01, 0.05, 0.10, 0.25, 0.35, 0.50, 0.65, 0.75, 0.90, 0.95, 0.99, 0.995, 1)
  moderate <- c(1, 0.99, 0.95, 0.80, 0.75, 0.65, 0.60, 0.55, 0.50, 0.50, 0.50, 0.50, 0.50, 0.50)
  severe <- c(1, 0.99, 0.90, 0.75, 0.60, 0.50, 0.40, 0.35, 0.30, 0.25, 0.10, 0.10, 0.10, 0.10)
  u <- d[against, ]; vi <- diag(V)[against]
  XU <- X[against, , drop = FALSE]; XU <- XU[, colSums(XU != 0) > 0, drop = FALSE]
  plain <- rma(u$yi, vi, mods = XU, intercept = FALSE, method = "ML", control = list(threshold = 1e-10, maxiter = 10000))
  select <- function(w) {
    s <- selmodel(plain, type = "stepfun", alternative = "greater", steps = steps, delta = w)
    list(beta = as.numeric(s$beta), tau2 = unbox(s$tau2), se = as.numeric(s$se))
  }
  selection <- list(treatments = colnames(XU), plain = as.numeric(plain$beta), tau2 = unbox(plain$tau2), moderate = select(moderate), severe = select(severe))

  # Design by treatment.
  inconsistency <- NULL
  if (designs) {
    design <- sapply(d$study, function(s) paste(sort(unique(c(d$arm[d$study == s], d$ref[d$study == s]))), collapse = " | "))
    Z <- do.call(cbind, lapply(unique(design), function(x) sapply(unique(c(d$arm, d$ref)), function(t) ((design == x) & d$arm == t) - ((design == x) & d$ref == t))))
    q <- qr(cbind(X, Z), tol = 1e-9)
    keep <- sort(q$pivot[seq_len(q$rank)]); keep <- keep[keep > ncol(X)]
    Y <- cbind(X, Z[, keep - ncol(X), drop = FALSE])
    colnames(Y) <- paste0("c", seq_len(ncol(Y)))
    f <- fit_on(all, Y)
    btt <- (ncol(X) + 1):ncol(Y)
    Q <- as.numeric(t(f$beta[btt]) %*% solve(f$vb[btt, btt]) %*% f$beta[btt])
    inconsistency <- list(designs = unbox(length(unique(design))), df = unbox(length(btt)), chi2 = unbox(Q), p = unbox(pchisq(Q, length(btt), lower.tail = FALSE)))
  }

  # The tests again with all that gains are integrated over, where the table has seasons: season, and practice by site.
  whole <- NULL
  if (!anyNA(d$season)) {
    same <- function(a, b) outer(a, b, "==") * 1
    parts <- list(row = K, season = same(d$season, d$season) * outer(z, z),
      place = same(d$site, d$site) * (same(d$arm, d$arm) - same(d$arm, d$ref) - same(d$ref, d$arm) + same(d$ref, d$ref)) / 2)
    parts <- lapply(parts, function(k) { dimnames(k) <- list(d$row, d$row); k })
    d$season <- d$place <- d$row
    with_all <- function(X) {
      f <- suppressWarnings(rma.mv(d$yi, V, mods = X, intercept = FALSE, random = list(~ contrast | study, ~ 1 | row, ~ 1 | season, ~ 1 | place), rho = 1/2, R = parts, Rscale = "none", data = d,
        control = list(rel.tol = 1e-10, iter.max = 1000, eval.max = 2000)))
      theta <- c(f$tau2, f$sigma2)
      theta[theta < 1e-6 * max(theta)] <- 0
      list(fit = f, theta = theta, kr = kenward_roger(unname(f$X), V, c(list(half), parts), theta, pool = TRUE))
    }
    one_more <- function(x) {
      f <- with_all(cbind(X, more = x)); k <- ncol(X) + 1; c <- replace(numeric(k), k, 1)
      list(theta = f$theta, value = unbox(as.numeric(f$fit$beta)[k]), se = unbox(sqrt(f$kr$PhiA[k, k])), df = unbox(f$kr$df(c)))
    }
    f <- with_all(Y)
    Q <- as.numeric(t(f$fit$beta[btt]) %*% solve(f$fit$vb[btt, btt]) %*% f$fit$beta[btt])
    nodes <- c(setdiff(unique(c(d$arm, d$ref)), colnames(X)), colnames(X))
    splits <- list()
    for (i in seq_along(nodes)) for (j in seq_len(i - 1)) {
      both <- sapply(d$study, function(s) all(nodes[c(i, j)] %in% c(d$arm[d$study == s], d$ref[d$study == s])))
      x <- both * ((d$arm == nodes[i]) - (d$ref == nodes[i]))
      if (any(both) && !all(both) && qr(cbind(X, x))$rank > ncol(X)) splits <- c(splits, list(c(list(practice = unbox(nodes[i]), against = unbox(nodes[j])), one_more(x))))
    }
    whole <- list(theta = f$theta, df = unbox(length(btt)), chi2 = unbox(Q), egger = one_more(ifelse(against, se, 0)), splits = splits)
  }

  # Errors by site.
  robust <- NULL
  if (length(unique(d$site)) > 1) {
    # with the estimated covariance as known, since clubSandwich takes no fit with an effect of the site in some rows only
    known <- rma.mv(d$yi, marginal(fit)$V, mods = X, intercept = FALSE)
    ct <- coef_test(known, vcov = vcovCR(known, cluster = factor(d$site), type = "CR2"), test = "Satterthwaite")
    robust <- list(se = ct$SE, df = ct[[grep("^df", names(ct))]])
  }
  versions <- lapply(list(R = as.character(getRversion()), metafor = as.character(packageVersion("metafor")), clubSandwich = as.character(packageVersion("clubSandwich"))), unbox)
  writeLines(toJSON(list(source = unbox(case$source[[1]]), versions = versions, site = unbox(sites), out = out, egger = egger, selection = selection,
    inconsistency = inconsistency, whole = whole, robust = robust), digits = NA, na = "null", null = "null"), file.path(dir, paste0(name, ".json")))
}
write_trust("curtis1998", FALSE, FALSE)
write_trust("konstantopoulos2011", TRUE, FALSE)
write_trust("baker2009", FALSE, TRUE)
write_trust("invented-network", TRUE, TRUE)
write_trust("invented-seasons", TRUE, TRUE)
